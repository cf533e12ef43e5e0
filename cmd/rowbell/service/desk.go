package service

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/manual"
	"rowbell/gateway/desk"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// openDesk makes the pages for staff a part of the gateway's handler.
func (s *Service) openDesk(p *parts) error {
	if p.conf.Desk.Off {
		return nil
	}
	files, err := p.conf.GrowerRules()
	if err != nil {
		return err
	}
	d, err := desk.New(desk.Options{Store: s.store, Menu: p.menu, Clock: s.clock, Log: s.log, Manual: helpPages(),
		Address: strings.TrimRight(p.conf.Desk.Address, "/"), QuietHour: p.conf.QuietHour,
		Queued: s.kick, Practice: s.practice, Currency: p.conf.Limits.Currency,
		Files: files, Encoder: p.conf.Encoder(), SegmentPrices: segmentPrices(p.networks),
		Texts: texts{s, p.conf, p.menu}, Networks: &networkDesk{s: s, p: p}})
	if err != nil {
		return err
	}
	p.desk = d
	p.gateway.Handle("/desk", http.RedirectHandler("/desk/", http.StatusSeeOther))
	p.gateway.Handle("/desk/*", d)
	return nil
}

// segmentPrices returns what a part costs with each network that sends texts, in millionths of the currency.
func segmentPrices(networks []profile.Profile) (prices []int64) {
	for _, n := range networks {
		if n.Push.URL != "" {
			prices = append(prices, n.Push.SegmentPrice)
		}
	}
	return prices
}

// printFirstLink prints the link with which the first operator makes an account, while there are no accounts.
// listen is the address on which the service listens.
func (s *Service) printFirstLink(ctx context.Context, c config.Config, listen string, out io.Writer) error {
	if c.Desk.Off {
		return nil
	}
	var token string
	if err := s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		token, err = tx.FirstLink(s.clock.Now().Unix())
		return err
	}); err != nil || token == "" {
		return err
	}
	_, err := fmt.Fprintf(out, "The desk, pages for staff, has no accounts. With this link, once and within two days, "+
		"the first operator makes one:\n%s/desk/join/%s\n", c.DeskAddress(listen), token)
	return err
}

// DeskChanged tells the browsers of staff that the list of the morning may have changed.
func (s *Service) DeskChanged() {
	if d := s.parts.Load().desk; d != nil {
		d.Changed()
	}
}

// EndStreams ends the streams of events to browsers, which would hold a stop up, and refuses new ones.
func (s *Service) EndStreams() { s.parts.Load().endStreams() }

func (p *parts) endStreams() {
	if p.desk != nil {
		p.desk.EndStreams()
	}
}

// helpPages returns the manual for the help of the desk.
func helpPages() (list []desk.HelpPage) {
	for _, p := range manual.Pages() {
		list = append(list, desk.HelpPage{Name: p.Name, Title: p.Title, Markdown: p.Text})
	}
	return list
}
