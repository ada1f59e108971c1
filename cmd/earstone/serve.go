package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os/user"
	"path/filepath"
	"strings"
	"time"

	"earstone/pages/letter"
	"earstone/pages/web"
	estimatepage "earstone/pages/web/estimate"
	planpage "earstone/pages/web/plan"
	"earstone/programme/finding"
	"earstone/programme/label"
	"earstone/programme/record"
	"earstone/store/accounts"
	"earstone/store/history"
	"earstone/store/jobs"
	"earstone/store/pictures"
	"earstone/store/sqlite"
	"earstone/store/tables"
)

// serveTakes are the arguments of serve.
type serveTakes struct {
	Src         string   `arg:"" name:"SRC" help:"The programme: a folder made by earstone new."`
	Listen      string   `help:"Where to listen. Other than this machine it wants an administrator, an encrypted way and a name." default:"127.0.0.1:8731" placeholder:"HOST:PORT"`
	Name        []string `help:"A name that people type into their browser to come here; may be given several times." placeholder:"HOST"`
	Certificate string   `help:"Certificate for an encrypted way, as a PEM file." placeholder:"FILE" and:"pair"`
	Key         string   `help:"Key of the certificate, as a PEM file." placeholder:"FILE" and:"pair"`
	BehindProxy bool     `help:"A proxy in front of this server encrypts, and says in X-Forwarded-For for whom it asks."`
}

// accountsFile lies beside the records and is no part of them.
const accountsFile = "accounts.sqlite"

func serve() command {
	var in serveTakes
	return command{
		name:    "serve",
		does:    "Serve the pages of a programme, to this machine alone unless told otherwise.",
		example: "earstone serve quarrow-banks",
		takes:   &in,
		run:     func(ctx context.Context, to *output) (status, error) { return in.serve(ctx, to) },
	}
}

func (in *serveTakes) serve(ctx context.Context, to *output) (_ status, err error) {
	loopback, err := isLoopback(in.Listen)
	if err != nil {
		return wrongUse, err
	}
	if !sqlite.Is(in.Src) {
		return wrongUse, fmt.Errorf("%s is no folder of a programme: earstone new makes one, earstone import fills it from tables", in.Src)
	}
	store, err := sqlite.Open(ctx, in.Src)
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	db, err := sqlite.Database(filepath.Join(in.Src, accountsFile))
	if err != nil {
		return failed, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	register, err := accounts.Open(ctx, db, to.clock)
	if err != nil {
		return failed, err
	}
	if err := web.Listening(ctx, register, loopback && !in.BehindProxy, in.Certificate != "" || in.BehindProxy, in.Name); err != nil {
		return wrongUse, err
	}
	folder, err := pictures.Open(filepath.Join(in.Src, sqlite.Pictures))
	if err != nil {
		return failed, err
	}
	log := slog.New(slog.NewTextHandler(to.err, nil))
	queue, err := jobs.Open(filepath.Join(in.Src, runsFolder), map[string]jobs.Work{estimatepage.Kind: estimates(in.Src, to.clock), planpage.Kind: plans(in.Src, to.clock)}, to.clock, log)
	if err != nil {
		return failed, err
	}
	defer queue.Close()
	site := web.Site{Kits: in.kits, Store: store, Accounts: register, Runs: queue, Told: func(results fs.FS) (letter.Run, error) { return readRun(results, runsFolder) }, Pictures: folder, Now: to.clock, Hosts: in.Name, Proxy: in.BehindProxy,
		Secure: in.Certificate != "" || in.BehindProxy, Log: log}
	if loopback && !in.BehindProxy {
		site.Solo = whoSits()
	}
	if site.Programme, err = nameOf(ctx, store); err != nil {
		return failed, err
	}
	return in.listen(ctx, to, site)
}

// kits are those of the table as it is now: earstone labels may change it while pages are
// served.
func (in *serveTakes) kits() ([]label.Kit, error) {
	wrong := &finding.List{}
	kits, err := readKits(in.Src, wrong)
	if err == nil && wrong.Of(finding.Error) > 0 {
		err = fmt.Errorf("%s has mistakes, which earstone labels %s tells: no phone is let in before they are mended", kitsFile, in.Src)
	}
	return kits, err
}

// listen answers until it is told to stop, then lets the requests at hand end.
func (in *serveTakes) listen(ctx context.Context, to *output, site web.Site) (status, error) {
	to.begin("counting the season")
	handler, err := web.New(ctx, site)
	if err != nil {
		return failed, err
	}
	var config net.ListenConfig
	listener, err := config.Listen(ctx, "tcp", in.Listen)
	if err != nil {
		return failed, fmt.Errorf("listening on %s: %w", in.Listen, err)
	}
	server := &http.Server{
		Handler: handler, ErrorLog: slog.NewLogLogger(site.Log.Handler(), slog.LevelWarn),
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: 32 << 10, TLSConfig: &tls.Config{MinVersion: tls.VersionTLS12},
	}
	to.say("The notebook of %s stands open at %s", site.Programme, in.address(listener.Addr()))
	if site.Solo != "" {
		alone, err := site.Accounts.Empty(ctx)
		if err != nil {
			return failed, errors.Join(err, listener.Close())
		}
		if alone {
			to.say("Nobody has an account: whoever uses this machine may read and write all of it, and no other machine reaches it.\nEntries are written as %s. The page People makes accounts.", site.Solo)
		}
	}
	to.say("Phones send cards at %sphone/ %s", strings.Fields(in.address(listener.Addr()))[0], in.aboutPhones(site))
	to.say("Ctrl-C ends it; what was kept is kept.")
	ended := make(chan error, 1)
	go func() {
		if in.Certificate != "" {
			ended <- server.ServeTLS(listener, in.Certificate, in.Key)
			return
		}
		ended <- server.Serve(listener)
	}()
	select {
	case err := <-ended:
		return failed, fmt.Errorf("serving: %w", err)
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	defer cancel()
	err = server.Shutdown(last)
	<-ended
	if err != nil {
		return failed, fmt.Errorf("ending the requests at hand: %w", err)
	}
	return done, nil
}

// aboutPhones says what phones need to keep the page.
func (in *serveTakes) aboutPhones(site web.Site) string {
	if !site.Secure {
		return "(from this machine only: other phones need --listen and an encrypted way, without which no browser keeps a page)"
	}
	return "with the code of a kit (earstone labels " + in.Src + " --json tells it)"
}

// address is what to type into a browser on this machine.
func (in *serveTakes) address(at net.Addr) string {
	scheme := "http://"
	if in.Certificate != "" {
		scheme = "https://"
	}
	_, port, _ := net.SplitHostPort(at.String())
	host := "localhost"
	if len(in.Name) > 0 {
		host = in.Name[0]
	}
	if in.BehindProxy {
		return "https://" + host + "/ (through the proxy, which asks for it at " + at.String() + ")"
	}
	return scheme + net.JoinHostPort(host, port) + "/"
}

// isLoopback tells whether an address can be reached from this machine alone.
func isLoopback(address string) (bool, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, fmt.Errorf("--listen %s: want HOST:PORT, such as 127.0.0.1:8731", address)
	}
	ip := net.ParseIP(host)
	return strings.EqualFold(host, "localhost") || ip != nil && ip.IsLoopback(), nil
}

// whoSits is the code under which the one person at this machine writes.
func whoSits() string {
	at, err := user.Current()
	if err != nil || at.Username == "" {
		return "this-computer"
	}
	name := at.Username
	return name[strings.LastIndexAny(name, `\/`)+1:] // without the domain
}

// nameOf is what the programme calls itself.
func nameOf(ctx context.Context, store history.Store) (name string, err error) {
	name = "Earstone"
	err = store.Each(ctx, history.Settings, func(r *history.Record) error {
		var settings record.Settings
		settings, _ = tables.Settings([]byte(r.Fields()["programme.json"]))
		if settings.Name != "" {
			name = settings.Name
		}
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("reading the settings of the programme: %w", err)
	}
	return name, nil
}
