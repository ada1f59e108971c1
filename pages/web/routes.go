package web

import (
	"crypto/rand"
	"encoding/binary"
	"net/http"

	"earstone/pages/web/back"
	"earstone/pages/web/bench"
	"earstone/pages/web/data"
	"earstone/pages/web/estimate"
	"earstone/pages/web/find"
	"earstone/pages/web/fish"
	"earstone/pages/web/form"
	"earstone/pages/web/frame"
	"earstone/pages/web/intake"
	"earstone/pages/web/people"
	"earstone/pages/web/phone"
	"earstone/pages/web/plan"
	"earstone/pages/web/read"
	"earstone/pages/web/settle"
	"earstone/store/accounts"
)

// route is one line of the table: what may be asked, by whom, and what answers.
type route struct {
	method, path string
	may          accounts.Roles // anyone of these; anyone needs no account
	stage        frame.Stage    // whose page this is
	takes        int64          // bytes of a body, where more than usual
	answer       frame.Handler
}

// anyone is the right of a route that asks for no account.
const anyone accounts.Roles = 0

// Who may do what. A reader is in none of these sets but everybody and reads: what stands on
// the pages of fish (length, day, place) is what a count must not know.
const (
	everybody = accounts.Everybody
	collects  = accounts.Coordinator | accounts.Bench
	reads     = accounts.Reader
	settles   = accounts.Coordinator | accounts.Analyst
	lays      = accounts.Coordinator | accounts.Bench
	looks     = accounts.Coordinator | accounts.Bench | accounts.Analyst
	rules     = accounts.Administrator
	runs      = accounts.Coordinator | accounts.Analyst | accounts.Administrator

	// unblinds are the roles that see the fish of a count, or the counts of others, on any
	// page: beside them a reader's counts are not blind.
	unblinds = looks | runs | lays | collects | settles
)

// tableBody bounds the table that is taken in on a page, and its text a second time.
const tableBody = 2*intake.TableBytes + usualBody

// picturesBody bounds the pictures of one form, in bytes.
const picturesBody = 1 << 30

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// beside are the pages that belong to no stage.
var beside = []frame.Link{{Path: "/data", Name: "Data"}, {Path: "/people", Name: "People"}}

// table is the one table of all that can be asked.
func (s *server) table() []route {
	desk := form.NewDesk(s.Store, s.Now)
	people := people.New(s.Accounts, unblinds)
	plan := plan.New(s.Runs, s.Store, s.Now)
	back := back.New(s.Store, s.Runs, estimate.Kind, s.Told, s.Now)
	bench := bench.New(s.Store, desk, s.Pictures, s.Now)
	data := data.New(s.Store, s.Runs, estimate.Kind, s.Programme)
	estimate := estimate.New(s.Runs, s.Now)
	find := find.New(s.Store, desk)
	fish := fish.New(s.Store, desk, s.Now)
	intake := intake.New(s.Store, desk, s.Now)
	settle := settle.New(s.Store, desk, s.Pictures, s.Now)
	read := read.New(s.Store, desk, s.Pictures, s.Now, seed, s.Accounts.Empty)
	phones := phone.New(phone.Site{Programme: s.Programme, Store: s.Store, Desk: desk, Pictures: s.Pictures, Kits: s.Kits, Now: s.Now, Address: s.address, Due: s.tries.due})
	return []route{
		{get, "/{$}", everybody, frame.NoStage, 0, s.begin},
		{get, "/sign-in", anyone, frame.NoStage, 0, s.askSignIn},
		{post, "/sign-in", anyone, frame.NoStage, 0, s.signIn},
		{post, "/sign-out", everybody, frame.NoStage, 0, s.signOut},
		{get, "/account", everybody, frame.NoStage, 0, s.askAccount},
		{post, "/account", everybody, frame.NoStage, 0, s.setOwnPassword},

		{get, "/plan", runs, frame.Plan, 0, plan.Show},
		{post, "/plan", runs, frame.NoStage, 0, plan.Make},
		{get, "/plan/print", runs, frame.NoStage, 0, plan.Print},

		{get, "/intake", collects, frame.Intake, 0, intake.Card},
		{post, "/intake", collects, frame.NoStage, 0, intake.Take},
		{get, "/intake/table", collects, frame.NoStage, 0, intake.Table},
		{post, "/intake/table", collects, frame.NoStage, tableBody, intake.TakeTable},

		{get, "/bench", collects, frame.Bench, 0, bench.Steps},
		{get, "/bench/pictures", collects, frame.NoStage, 0, bench.Pictures},
		{post, "/bench/pictures", collects, frame.NoStage, picturesBody, bench.TakePictures},
		{get, "/bench/{step}", collects, frame.NoStage, 0, bench.Ask},
		{post, "/bench/{step}", collects, frame.NoStage, 0, bench.Do},

		{get, "/read", reads | settles, frame.Read, 0, read.Lobby},
		{post, "/read", reads, frame.NoStage, 0, read.Begin},
		{post, "/read/deal", settles, frame.NoStage, 0, read.Deal},
		{get, "/read/{sitting}", reads, frame.NoStage, 0, read.GoOn},
		{get, "/read/{sitting}/tray", lays, frame.NoStage, 0, read.Tray},
		{get, "/read/{sitting}/{ticket}", reads, frame.NoStage, 0, read.Turn},
		{post, "/read/{sitting}/{ticket}", reads, frame.NoStage, 0, read.Keep},
		{post, "/read/{sitting}/{ticket}/work", reads, frame.NoStage, 0, read.Mark},
		{post, "/read/{sitting}/{ticket}/along", reads, frame.NoStage, 0, read.Along},
		{get, "/read/{sitting}/{ticket}/tile/{level}/{col}/{row}", reads, frame.NoStage, 0, read.Tile},

		{get, "/settle", settles, frame.Settle, 0, settle.Show},
		{post, "/settle", settles, frame.NoStage, 0, settle.Record},
		{post, "/settle/readers", settles, frame.NoStage, 0, settle.Clear},
		{get, "/settle/{fish}", settles, frame.NoStage, 0, settle.Fish},
		{post, "/settle/{fish}", settles, frame.NoStage, 0, settle.Decide},
		{post, "/settle/{fish}/reference", settles, frame.NoStage, 0, settle.Collect},
		{get, "/settle/{fish}/tile/{picture}/{level}/{col}/{row}", settles, frame.NoStage, 0, settle.Tile},

		{get, "/find", looks, frame.NoStage, 0, find.Seek},
		{get, "/fish", looks, frame.NoStage, 0, fish.ByLabel},
		{get, "/fish/{fish}", looks, frame.NoStage, 0, fish.Show},
		{get, "/fish/{fish}/correct", collects, frame.NoStage, 0, fish.Ask},
		{post, "/fish/{fish}/correct", collects, frame.NoStage, 0, fish.Correct},

		{get, "/estimate", runs, frame.Estimate, 0, estimate.Runs},
		{post, "/estimate", runs, frame.NoStage, 0, estimate.Start},
		{get, "/estimate/compare", runs, frame.NoStage, 0, estimate.Compare},
		{get, "/estimate/{run}", runs, frame.NoStage, 0, estimate.Run},
		{post, "/estimate/{run}/stop", runs, frame.NoStage, 0, estimate.Stop},
		{post, "/estimate/{run}/again", runs, frame.NoStage, 0, estimate.Again},
		{get, "/estimate/{run}/report", runs, frame.NoStage, 0, estimate.Report},
		{get, "/estimate/{run}/beneath", runs, frame.NoStage, 0, estimate.Beneath},

		{get, "/data", looks | runs, frame.NoStage, 0, data.About},
		{get, "/data/openapi.json", looks | runs, frame.NoStage, 0, data.Description},
		{get, "/data/{file}", looks, frame.NoStage, 0, data.Table},
		{get, "/data/runs.json", runs, frame.NoStage, 0, data.Runs},
		{get, "/data/runs/{run}/{file}", runs, frame.NoStage, 0, data.Result},

		{post, "/programs", rules, frame.NoStage, 0, people.Give},
		{post, "/programs/withdraw", rules, frame.NoStage, 0, people.Withdraw},
		{get, "/phone", anyone, frame.NoStage, 0, phones.Begin},
		{get, phone.Path + "{$}", anyone, frame.NoStage, 0, phones.Index},
		{get, phone.Path + "{file}", anyone, frame.NoStage, 0, phones.File},
		{post, phone.Path + "kit", anyone, frame.NoStage, 0, phones.Kit},
		{post, phone.Path + "cards", anyone, frame.NoStage, phone.CardBytes, phones.Cards},
		{post, phone.Path + "photographs", anyone, frame.NoStage, phone.PhotographBytes, phones.Photograph},
		{get, "/photographs/{photograph}", looks, frame.NoStage, 0, phones.Original},

		{get, "/back", runs, frame.Back, 0, back.Show},
		{get, "/back/letters", runs, frame.NoStage, 0, back.Letters},
		{get, "/back/letter/{contributor}", runs, frame.NoStage, 0, back.Letter},
		{get, "/back/notice", runs, frame.NoStage, 0, back.Notice},

		{get, "/people", rules, frame.NoStage, 0, people.All},
		{post, "/people", rules, frame.NoStage, 0, people.Add},
		{get, "/people/{person}", rules, frame.NoStage, 0, people.One},
		{post, "/people/{person}", rules, frame.NoStage, 0, people.Change},
		{post, "/people/{person}/password", rules, frame.NoStage, 0, people.SetPassword},
		{post, "/people/{person}/sessions", rules, frame.NoStage, 0, people.EndSessions},
	}
}

// seed is one that nobody can guess.
func seed() uint64 {
	var b [8]byte
	_, _ = rand.Read(b[:]) // it never fails (crypto/rand)
	return binary.LittleEndian.Uint64(b[:])
}
