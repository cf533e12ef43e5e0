package gateway_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// The time of a text counts if it is not more than three days ago and, as two clocks differ, not more than five minutes
// ahead. Otherwise the text counts as sent now. No text is refused because of its time.
func TestTimesOfTexts(t *testing.T) {
	t.Parallel()
	h := open(t)
	for i, tt := range []struct {
		name   string
		sentAt any
		ago    time.Duration // how long before now the text counts as sent; below 0: its time does not count
		today  int           // which day the text calls today, from the present day
	}{
		{"none", nil, -1, 0},
		{"an empty one", "", -1, 0},
		{"now", morning, 0, 0},
		{"of today", morning.Add(-2 * time.Hour), 2 * time.Hour, 0},
		{"of yesterday", morning.Add(-7 * time.Hour), 7 * time.Hour, -1},
		{"of three days ago", morning.Add(-72 * time.Hour), 72 * time.Hour, -3},
		{"older", morning.Add(-72*time.Hour - time.Second), -1, 0},
		{"of long ago", time.Unix(1, 0), -1, 0},
		{"by a clock that is ahead", morning.Add(5 * time.Minute), 0, 0},
		{"of the future", morning.Add(5*time.Minute + time.Second), -1, 0},
		{"of the far future", time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC), -1, 0},
		{"in words", "this morning", -1, 0},
		{"a number", 1780293600, -1, 0},
		{"an object", m{}, -1, 0},
	} {
		if at, ok := tt.sentAt.(time.Time); ok {
			tt.sentAt = at.Format(time.RFC3339)
		}
		h.post("/in/local/sms", m{"id": fmt.Sprint(i), "phone": phone.E164(), "text": "when", "sent_at": tt.sentAt})
		want := int64(0)
		if tt.ago >= 0 {
			want = morning.Add(-tt.ago).Unix()
		}
		steps := h.menu.asked()
		if got := steps[len(steps)-1]; got != fmt.Sprintf("sent at %d, today is %+d", want, tt.today) {
			t.Errorf("%s: %s, want %d, %+d", tt.name, got, want, tt.today)
		}
	}
	if n := strings.Count(h.log.String(), "the time of a text cannot be read"); n != 7 {
		t.Errorf("%d times are logged as unusable, want 7", n)
	}
}
