package store

import (
	"cmp"
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// sheet is the expected row of one message in the model.
type sheet struct {
	state   State
	tries   int
	claimAt int64 // set for queued and claimed texts
	useful  int64
	network string
	phone   Phone
	doubt   bool // true if a network may have taken the text
	taken   bool // true if a settlement or a receipt said that the network took the text
	open    bool // true if the text ended during a try whose result has not come
}

func (m *sheet) pending() bool { return m.state == Queued || m.state == Claimed }

// over returns the state in which the text m ends: unknown if a network may have taken the text, and otherwise s.
func over(m *sheet, s State) State {
	if m.doubt {
		return Unknown
	}
	return s
}

// lost changes the model after a try with an uncertain result, if the text ended during that try. The argument mine is
// true if the try c had not ended when its result came.
func lost(m *sheet, c Message, mine bool) {
	if !mine && (m.state == Withdrawn || m.state == Unknown) && m.tries == c.Tries {
		m.state, m.doubt, m.open = Unknown, true, false
	}
}

// notSent is lost after a try that surely did not send the text.
func notSent(m *sheet, c Message, mine bool, now int64) {
	if mine || m.state != Unknown || m.tries != c.Tries || !m.open {
		return
	}
	if m.state, m.doubt, m.open = Withdrawn, false, false; m.useful < now {
		m.state = Expired
	}
}

// The model is the map rows. In random order, networks claim and settle texts, receipts and STOPs come, and time
// passes. After each step the database must agree with the model.
//
//revive:disable-next-line:function-length the actions share the model
func TestOutboxAgreesWithItsModel(t *testing.T) {
	s := open(t)
	rapid.Check(t, func(t *rapid.T) {
		now := noon
		rows := map[int64]*sheet{}
		var order []int64
		var claims []Message // all texts that were claimed so far
		execSQL(t, s, "DELETE FROM message")
		phones := rapid.SampledFrom([]Phone{ana, ben})
		t.Repeat(map[string]func(*rapid.T){
			"enqueue": func(t *rapid.T) {
				key := fmt.Sprint(rapid.IntRange(0, 9).Draw(t, "key"))
				m := text(key, phones.Draw(t, "phone"), now)
				m.DueAt = now + rapid.Int64Range(0, 5).Draw(t, "delay")
				m.UsefulUntil = m.DueAt + rapid.Int64Range(0, 30).Draw(t, "useful")
				fresh := get(t, s, func(tx *Tx) (bool, error) { return tx.Enqueue(m) })
				id := number(t, s, "SELECT id FROM message WHERE key = $1", key)
				fatalIf(t, fresh == (rows[id] != nil), "key %s: fresh %v", key, fresh)
				if fresh {
					rows[id] = &sheet{state: Queued, claimAt: m.DueAt, useful: m.UsefulUntil, phone: m.To}
					order = append(order, id)
				}
			},
			"claim": func(t *rapid.T) {
				lease := rapid.Int64Range(1, 10).Draw(t, "lease")
				c := local(100)
				c.Lease = time.Duration(lease) * time.Second
				_, list := handOver(t, s, now, c)
				// A text waits while another text to the same phone is being sent, or while an earlier one must be
				// tried again.
				waits := func(id int64) bool {
					m := rows[id]
					for other, o := range rows {
						before := o.useful < m.useful || o.useful == m.useful && other < id
						if other != id && o.phone == m.phone && (o.state == Claimed && o.claimAt > now ||
							o.pending() && o.tries > 0 && (o.claimAt > now || o.doubt) && before) {
							return true
						}
					}
					return false
				}
				slices.SortFunc(order, func(a, b int64) int {
					return cmp.Or(cmp.Compare(rows[a].useful, rows[b].useful), cmp.Compare(a, b))
				})
				var gone, due []int64 // gone: texts whose lease has ended
				for _, id := range order {
					if m := rows[id]; m.state == Claimed && m.claimAt <= now && m.useful >= now && !waits(id) {
						gone = append(gone, id)
					}
				}
				for _, id := range gone {
					rows[id].state, rows[id].doubt, rows[id].claimAt = Queued, true, now
				}
				for _, id := range order {
					if m := rows[id]; m.pending() && m.claimAt <= now && m.useful >= now && !waits(id) {
						due = append(due, id)
					}
				}
				for _, id := range due {
					m := rows[id]
					m.state, m.claimAt, m.tries = Claimed, now+lease, m.tries+1
					fatalIf(t, len(list) == 0, "message %d was not claimed", id)
					claims = append(claims, list[0])
					list = list[1:]
				}
				fatalIf(t, len(list) > 0, "claimed too: %v", list)
			},
			"settle": func(t *rapid.T) {
				if len(claims) == 0 {
					t.Skip("nothing was claimed")
				}
				c := rapid.SampledFrom(claims).Draw(t, "claim")
				m, mine := rows[c.ID], rows[c.ID].state == Claimed && rows[c.ID].tries == c.Tries
				var settlement Settlement
				switch rapid.IntRange(0, 4).Draw(t, "how") {
				case 0:
					network := rapid.SampledFrom([]string{"", fmt.Sprint("net-", c.ID)}).Draw(t, "id")
					settlement = c.Took(network)
					if m.state != Delivered && m.state != Refused && !(m.state == Expired && m.taken) {
						m.state = Accepted
					}
					m.taken = true
					if network != "" {
						m.network = network
					}
				case 1:
					at := now + rapid.Int64Range(0, 20).Draw(t, "wait")
					settlement = c.Again(at, "busy")
					if unsure := rapid.Bool().Draw(t, "unsure"); unsure {
						settlement = c.Unsure(at, "cut off")
						lost(m, c, mine)
						m.doubt = m.doubt || mine
					} else {
						notSent(m, c, mine, now)
					}
					if mine && at <= m.useful {
						m.state, m.claimAt = Queued, at
					} else if mine {
						m.state = over(m, Expired)
					}
				case 2:
					settlement = c.Refuse("no")
					notSent(m, c, mine, now)
					if mine {
						m.state = over(m, Refused)
					}
				case 3:
					settlement = c.Expire("late")
					notSent(m, c, mine, now)
					if mine {
						m.state = over(m, Expired)
					}
				case 4:
					settlement = c.LostTrack("cut off")
					lost(m, c, mine)
					if mine {
						m.state, m.doubt = Unknown, true
					}
				}
				settle(t, s, now, settlement)
			},
			"receipt": func(t *rapid.T) {
				if len(order) == 0 {
					t.Skip("nothing was queued")
				}
				id := rapid.SampledFrom(order).Draw(t, "message")
				state := rapid.SampledFrom([]State{Delivered, Refused, Expired, Accepted}).Draw(t, "state")
				m := rows[id]
				name := fmt.Sprint("net-", id)
				if m.network == "" {
					name = "net-nobody"
				}
				known := get(t, s, func(tx *Tx) (bool, error) { return tx.Receipt("local", name, state, now, "") })
				fatalIf(t, known != (m.network != ""), "receipt for %s: known %v", name, known)
				if !known {
					return
				}
				if state == Accepted {
					if m.pending() {
						m.state, m.taken = Accepted, true
					}
					return
				}
				if ended := m.state == Refused || m.state == Expired || m.state == Withdrawn; state == Delivered ||
					m.state != Delivered && !ended {
					m.state, m.taken = state, true
				}
			},
			"expire": func(*rapid.T) {
				n := get(t, s, func(tx *Tx) (int, error) { return tx.ExpireStale(now, 1000) })
				for _, m := range rows {
					if m.useful < now && (m.state == Queued || m.state == Claimed && m.claimAt <= now) {
						m.open = m.state == Claimed && !m.doubt
						m.doubt = m.doubt || m.state == Claimed
						m.state = over(m, Expired)
						n--
					}
				}
				equal(t, n, 0, "texts expired, fewer than counted")
			},
			"stop": func(t *rapid.T) {
				phone := phones.Draw(t, "phone")
				ledger(t, s, phone, now, (*Ledger).Stop)
				for _, m := range rows {
					if m.pending() && m.phone == phone {
						m.open = m.state == Claimed && !m.doubt
						m.doubt = m.doubt || m.state == Claimed
						m.state = over(m, Withdrawn)
					}
				}
			},
			"wait": func(t *rapid.T) { now += rapid.Int64Range(1, 12).Draw(t, "seconds") },
			"": func(t *rapid.T) {
				view(t, s, func(tx *Tx) error {
					for _, id := range order {
						var state, network string
						var tries, claimAt int64
						var taken bool
						if _, err := tx.one(`SELECT state, tries, coalesce(claim_at, 0), coalesce(network_id, ''),
							accepted_at IS NOT NULL FROM message WHERE id = $1`,
							args(id), &state, &tries, &claimAt, &network, &taken); err != nil {
							return err
						}
						m := *rows[id]
						if !m.pending() {
							m.claimAt = 0
						}
						if got := (sheet{State(state), int(tries), claimAt, m.useful, network, m.phone, m.doubt,
							taken, m.open}); got != m {
							return fmt.Errorf("message %d\n got %+v\nwant %+v", id, got, m)
						}
					}
					return nil
				})
			},
		})
	})
}
