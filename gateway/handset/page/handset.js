// The room without script is plain forms; this sends them in the background,
// puts the new parts in place, and adds the keypad, the keyboard and the play
// button.
"use strict";

(() => {
  const room = document.querySelector("[data-room]");
  if (!room) return;

  const $ = (id) => document.getElementById(id);
  const entry = $("entry"), play = $("play");
  let queue = Promise.resolve();

  // put replaces what changed between this page and the next one. If nobody
  // has done anything on this page, what was said and where one reads stay.
  function put(html, byItself) {
    const next = new DOMParser().parseFromString(html, "text/html");
    const held = document.activeElement && document.activeElement.id;
    for (const part of document.querySelectorAll("[data-part]")) {
      const fresh = next.getElementById(part.id);
      if (byItself && part.id === "note") continue;
      if (fresh && fresh.innerHTML !== part.innerHTML) part.innerHTML = fresh.innerHTML;
    }
    if (!byItself) $("screen").scrollTop = 0;
    entry.placeholder = next.getElementById("entry").placeholder;
    if (document.activeElement === document.body && held) {
      ($(held) || $("texts-title")).focus({ preventScroll: true });
    }
  }

  // send posts one form after the one before it is answered.
  function send(form, action) {
    const body = new URLSearchParams(new FormData(form));
    queue = queue.then(async () => {
      const wait = setTimeout(() => {
        room.setAttribute("aria-busy", "true");
        if (form.dataset.busy) $("note").textContent = form.dataset.busy;
      }, 250);
      try {
        const answer = await fetch(action, { method: "POST", body });
        if (!answer.ok) throw new Error(await answer.text());
        put(await answer.text());
      } catch (e) {
        stop();
        $("note").textContent = e.message || "The service does not answer.";
      } finally {
        clearTimeout(wait);
        room.removeAttribute("aria-busy");
      }
    });
    return queue;
  }

  document.addEventListener("submit", (e) => {
    const form = e.target;
    if ("leaves" in form.dataset) return;
    e.preventDefault();
    const by = e.submitter;
    const action = by && by.hasAttribute("formaction") ? by.formAction : form.action;
    send(form, action);
    if (form.id === "call") entry.value = "";
    if (form.id === "reply") $("text").value = "";
    if (form.parentElement === $("again")) {
      stop();
      $("again").open = false;
    }
  });

  // The keypad. Touching a key of the handset or of the calendar leaves the
  // focus where it is, so that Enter goes on meaning "send".
  const type = (key) => { if (entry.value.length < entry.maxLength) entry.value += key; };
  const back = () => { entry.value = entry.value.slice(0, -1); };
  const paddy = $("paddy");
  paddy.hidden = $("back").hidden = play.hidden = false;
  for (const el of [paddy, $("back"), $("go"), $("hang"), $("calendar")]) {
    el.addEventListener("pointerdown", (e) => e.preventDefault());
    el.addEventListener("mousedown", (e) => e.preventDefault());
  }
  // leaveButton takes the focus from a button that had it before something
  // was typed for the handset: Enter sends that, and presses no other button.
  const leaveButton = () => {
    if (document.activeElement.matches("button, a, summary")) document.activeElement.blur();
  };
  paddy.addEventListener("click", (e) => {
    const key = e.target.closest("[data-key]");
    if (!key) return;
    type(key.dataset.key);
    if (!paddy.contains(document.activeElement)) leaveButton();
  });
  $("back").addEventListener("click", back);

  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    if (e.key === "Escape") {
      e.preventDefault();
      $("hang").click();
      return;
    }
    if (e.target.matches("input, textarea")) return;
    if (/^[0-9*#]$/.test(e.key)) {
      e.preventDefault();
      type(e.key);
      leaveButton();
      press(e.key);
    } else if (e.key === "Backspace") {
      e.preventDefault();
      back();
    } else if (e.key === "Enter" && !e.target.closest("button, a, summary")) {
      e.preventDefault();
      $("go").click();
    }
  });

  // press shows on the keypad what was typed.
  function press(key) {
    const el = paddy.querySelector(`[data-key="${key}"]`);
    el.classList.add("down");
    setTimeout(() => el.classList.remove("down"), 120);
  }

  // A picture that was slid to its right end no longer fades there. Scroll
  // events do not bubble, so they are caught on their way down.
  document.addEventListener("scroll", (e) => {
    const el = e.target;
    if (el === document || !el.matches(".season-picture")) return;
    el.classList.toggle("at-end", el.scrollLeft + el.clientWidth >= el.scrollWidth - 2);
  }, true);

  // Play: a day a second, each after the one before it is done.
  let timer = 0;
  function stop() {
    clearInterval(timer);
    timer = 0;
    play.setAttribute("aria-pressed", "false");
    play.textContent = "Play";
  }
  play.addEventListener("click", () => {
    if (timer) return stop();
    const form = $("next-day-form");
    let busy = false;
    timer = setInterval(async () => {
      if (busy) return;
      busy = true;
      await send(form, form.action);
      busy = false;
    }, 1000);
    play.setAttribute("aria-pressed", "true");
    play.textContent = "Stop";
  });

  // What staff do at the desk changes this page too, and what is done here
  // changes their list. Only a page that is seen holds a connection.
  const news = $("desk-news");
  let stream, seen = "";
  function follow() {
    if (stream) stream.close();
    if (document.hidden) return;
    stream = new EventSource(news.dataset.events + "?seen=" + encodeURIComponent(seen));
    stream.addEventListener("change", (e) => {
      const first = !seen;
      seen = e.lastEventId;
      if (first) return;
      news.textContent = "The list on the desk has changed.";
      queue = queue.then(async () => {
        const answer = await fetch(location.href);
        if (answer.ok) put(await answer.text(), true);
      }).catch(() => {});
    });
  }
  if (news && window.EventSource) {
    document.addEventListener("visibilitychange", follow);
    addEventListener("pagehide", () => stream && stream.close());
    addEventListener("pageshow", (e) => e.persisted && follow());
    follow();
  }

  const wide = matchMedia("(min-width: 64rem)");
  const others = $("others");
  others.open = wide.matches;
  wide.addEventListener("change", () => { others.open = wide.matches; });
})();
