package season

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"rowbell/cmd/rowbell-load/stack"
)

// post posts a call of the grower's network.
func (w *world) post(ctx context.Context, g *grower, call string, body map[string]any, want int) ([]byte, error) {
	a, err := w.stack.Post(ctx, stack.NetworkOf(g.phone), call, body)
	if err != nil {
		return nil, err
	}
	if a.Status != want {
		return nil, fmt.Errorf("%s: %s was answered with %d: %s", g, call, a.Status, a.Body)
	}
	return a.Body, nil
}

// dial dials a code, which may have answers in it, and returns the screen.
func (g *grower) dial(ctx context.Context, w *world, code string) (string, error) {
	g.sessions++
	g.step = 0
	return g.ussd(ctx, w, map[string]any{"event": "begin", "dialled": code})
}

// enter answers the screen.
func (g *grower) enter(ctx context.Context, w *world, entry string) (string, error) {
	g.step++
	return g.ussd(ctx, w, map[string]any{"event": "entry", "entry": entry})
}

// hangUp ends the call.
func (g *grower) hangUp(ctx context.Context, w *world) error {
	g.step++
	_, err := g.ussd(ctx, w, map[string]any{"event": "end"})
	return err
}

func (g *grower) ussd(ctx context.Context, w *world, call map[string]any) (string, error) {
	w.calls.Add(1)
	call["phone"], call["step"] = g.phone.E164(), g.step
	call["session"] = fmt.Sprintf("s%d-%d", g.i, g.sessions)
	body, err := w.post(ctx, g, "ussd", call, http.StatusOK)
	if err != nil || call["event"] == "end" {
		return "", err
	}
	var screen struct{ Text string }
	if err := json.Unmarshal(body, &screen); err != nil {
		return "", fmt.Errorf("%s: the screen %q: %w", g, body, err)
	}
	return screen.Text, nil
}

// write sends a text.
func (g *grower) write(ctx context.Context, w *world, text string) error {
	w.sms.Add(1)
	g.written++
	_, err := w.post(ctx, g, "sms", map[string]any{"id": fmt.Sprintf("w%d-%d", g.i, g.written), "phone": g.phone.E164(),
		"to": "12345", "text": text}, http.StatusAccepted)
	return err
}

// receive reports that the phone has a text.
func (g *grower) receive(ctx context.Context, w *world, a arrival) error {
	w.receipts.Add(1)
	_, err := w.post(ctx, g, "receipt", map[string]any{"id": a.id, "state": "delivered",
		"at": time.Unix(a.at, 0).UTC().Format(time.RFC3339)}, http.StatusNoContent)
	return err
}
