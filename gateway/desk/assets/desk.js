// The pages work without this file. It saves some keystrokes where a browser runs it.
"use strict";

// A form is sent once, also if its button is pressed twice.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
});
addEventListener("pageshow", () => {
  for (const form of document.forms) delete form.dataset.sent;
});

// After a refused form the first mistake gets the focus.
const wrong = document.querySelector("[aria-invalid]");
if (wrong) wrong.focus();

// A count that takes longer than one request goes on by itself.
document.querySelector("[data-goes-on]")?.click();

// A list with data-live follows what happens: the server says that it has changed, and the page is asked for anew.
// While somebody is in the list with the keyboard or has opened a part of it, it stays as it is, and a button renews it.
const list = document.querySelector("[data-live]");
if (list && window.EventSource && list.id) {
  const said = document.createElement("p");
  said.className = "live-state";
  said.setAttribute("role", "status");
  list.before(said);
  let stream, seen = list.dataset.live, again;

  const busy = () => list.querySelector("details[open]") || list.contains(document.activeElement);

  async function renew() {
    const answer = await fetch(location.href, { headers: { "Rowbell-Renew": "1" } });
    if (answer.redirected) return location.reload();
    if (!answer.ok) return;
    const next = new DOMParser().parseFromString(await answer.text(), "text/html");
    const held = document.activeElement && document.activeElement.id;
    for (const part of document.querySelectorAll("[data-live], [data-part]")) {
      const fresh = next.getElementById(part.id);
      if (fresh && fresh.innerHTML !== part.innerHTML) part.innerHTML = fresh.innerHTML;
    }
    if (held && document.activeElement === document.body) document.getElementById(held)?.focus({ preventScroll: true });
    said.textContent = "Something has happened: the list was renewed.";
  }

  function tell() {
    said.textContent = "Something has happened. ";
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = "Renew the list";
    button.addEventListener("click", renew);
    said.append(button);
  }

  // Only a page that is seen holds a connection: a browser has few for a site.
  function follow() {
    clearTimeout(again);
    if (stream) stream.close();
    if (document.hidden) return;
    stream = new EventSource("/desk/events?seen=" + encodeURIComponent(seen));
    stream.addEventListener("change", (event) => {
      seen = event.lastEventId;
      if (busy()) tell();
      else renew().catch(tell);
    });
    stream.addEventListener("error", () => {
      if (stream.readyState === EventSource.CLOSED) again = setTimeout(follow, 30000);
    });
  }
  document.addEventListener("visibilitychange", follow);
  addEventListener("pagehide", () => stream && stream.close());
  addEventListener("pageshow", (event) => event.persisted && follow());
  follow();
}

// How long a text is, while it is typed. Without this the button "Count the parts" says it.
for (const area of document.querySelectorAll("textarea[data-parts]")) {
  const said = document.getElementById(area.dataset.parts);
  let waits;
  area.addEventListener("input", () => {
    clearTimeout(waits);
    waits = setTimeout(async () => {
      const answer = await fetch(area.form.action, {
        method: "POST",
        body: new URLSearchParams({ do: "parts", key: area.name, text: area.value }),
      });
      if (answer.ok && !answer.redirected) said.textContent = await answer.text();
    }, 300);
  });
}
