package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"earstone/store/history"
	"earstone/store/storetest"
)

// readOnlyDir names, in a process of somebody without rights, a programme to open.
const readOnlyDir = "EARSTONE_TEST_READ_ONLY_DIR"

func TestSecondWriterIsTold(t *testing.T) {
	s := fresh(t)
	defer s.Close()
	if _, err := Open(context.Background(), s.dir); !errors.Is(err, history.ErrLocked) {
		t.Errorf("a second writer = %v, want ErrLocked", err)
	}
	other, err := Read(context.Background(), s.dir)
	if err != nil {
		t.Fatalf("a reader beside the writer: %v", err)
	}
	defer other.Close()
	keep(t, s, card("QB-1"))
	if hits, err := other.Find(context.Background(), "QB-1", 1); err != nil || len(hits) != 1 {
		t.Errorf("a reader beside the writer finds %d records (%v), want what was just kept", len(hits), err)
	}
	if err := other.Append(context.Background(), card("QB-2")); err == nil {
		t.Error("a reader wrote")
	}
}

func TestLockEndsWithTheStore(t *testing.T) {
	s := fresh(t)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := Open(context.Background(), s.dir)
	if err != nil {
		t.Fatalf("opening again after closing: %v", err)
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
	if left := files(t, s.dir); len(left) != 1 {
		t.Errorf("after closing, the programme is %v, want one file", left)
	}
}

func TestFullDiskLosesNothing(t *testing.T) {
	ctx := context.Background()
	s := fresh(t)
	defer s.Close()
	keep(t, s, card("QB-1"))
	limit := func(pages int) {
		if err := s.w.conn.QueryRowContext(ctx, fmt.Sprint("PRAGMA max_page_count = ", pages)).Scan(new(int)); err != nil {
			t.Fatal(err)
		}
	}
	limit(1) // which SQLite takes as: no more pages than there are
	large := card("QB-2")
	large.Fields["remark"] = strings.Repeat("a long remark ", 10000)
	if err := s.Append(ctx, large); !errors.Is(err, history.ErrFull) {
		t.Errorf("writing to a full disk = %v, want ErrFull", err)
	}
	whole(t, s, 1)
	limit(1 << 30)
	large.ID, large.Subject = history.ID{}, history.ID{}
	keep(t, s, large)
	whole(t, s, 2)
}

func keep(t testing.TB, s *Store, entries ...*history.Entry) {
	t.Helper()
	if err := s.Append(context.Background(), entries...); err != nil {
		t.Fatal(err)
	}
}

func whole(t testing.TB, s *Store, entries int) {
	t.Helper()
	proof, err := s.Verify(context.Background(), nil)
	if err != nil || len(proof.Damage) > 0 || proof.Entries != entries {
		t.Errorf("%d entries, damage %+v (%v), want %d whole ones", proof.Entries, proof.Damage, err, entries)
	}
}

// openReadOnly is what TestFolderThatCannotBeWritten does in another process.
func openReadOnly(dir string) (status int) {
	ctx := context.Background()
	if _, err := Open(ctx, dir); !errors.Is(err, history.ErrReadOnly) {
		fmt.Printf("opening a folder that can't be written to = %v, want ErrReadOnly\n", err)
		status = 1
	}
	if err := Create(ctx, filepath.Join(dir, "new")); !errors.Is(err, history.ErrReadOnly) {
		fmt.Printf("making a programme where nothing can be written = %v, want ErrReadOnly\n", err)
		status = 1
	}
	s, err := Read(ctx, dir)
	if err != nil {
		fmt.Printf("reading there: %v\n", err)
		return 1
	}
	if hits, err := s.Find(ctx, "QB-1", 1); err != nil || len(hits) != 1 {
		fmt.Printf("reading there finds %d records (%v), want 1\n", len(hits), err)
		status = 1
	}
	if proof, err := s.Verify(ctx, nil); err != nil || len(proof.Damage) > 0 {
		fmt.Printf("verifying there: %+v (%v)\n", proof, err)
		status = 1
	}
	if err := s.Close(); err != nil {
		fmt.Println(err)
		status = 1
	}
	return status
}

// many is a closed programme of n cards.
func many(t *testing.T, n int) (dir string) {
	t.Helper()
	s := fresh(t)
	var all []*history.Entry
	for i := range n {
		all = append(all, card(fmt.Sprintf("QB-%05d", i)))
	}
	keep(t, s, all...)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return s.dir
}

func TestDamagedBytesAreFoundAndTheRestIsWhole(t *testing.T) {
	dir := many(t, 500)
	path := filepath.Join(dir, File)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(content, []byte(`"fish":"QB-00123"`))
	content[at+len(`"fish":"QB-0012`)] = '9'
	if err := os.WriteFile(path, content, 0o666); err != nil {
		t.Fatal(err)
	}
	s, err := Read(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	proof, err := s.Verify(context.Background(), nil)
	if err != nil || proof.Entries != 500 || proof.Whole != 499 || len(proof.Damage) == 0 || proof.Damage[0].What != "entry" || proof.Damage[0].Label != "QB-00129" {
		t.Errorf("of 500 entries %d are whole, damage %+v (%v); want 499 and the one that was changed", proof.Whole, proof.Damage, err)
	}
}

func TestBrokenPagesAreToldAndTheRestIsRead(t *testing.T) {
	dir := many(t, 2000)
	path := filepath.Join(dir, File)
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(content, []byte(`"fish":"QB-01000"`)) / 4096 * 4096
	copy(content[at:at+4096], bytes.Repeat([]byte{0xAA}, 4096))
	if err := os.WriteFile(path, content, 0o666); err != nil {
		t.Fatal(err)
	}
	s, err := Read(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	proof, err := s.Verify(context.Background(), nil)
	if err != nil || len(proof.Damage) == 0 || proof.Whole < 1900 || proof.Whole >= 2000 {
		t.Errorf("with one page of many broken, %d of 2000 entries are whole and %d damages told (%v)", proof.Whole, len(proof.Damage), err)
	}
	t.Logf("%d whole, first damage %+v", proof.Whole, proof.Damage[0])
}

func TestFileThatIsNoProgramme(t *testing.T) {
	for name, spoil := range map[string]func([]byte) []byte{
		"no header":          func(b []byte) []byte { copy(b, make([]byte, 100)); return b },
		"not a file of ours": func([]byte) []byte { return []byte(strings.Repeat("fish,species\n", 1000)) },
	} {
		dir := many(t, 10)
		path := filepath.Join(dir, File)
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, spoil(content), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(context.Background(), dir); !errors.Is(err, history.ErrDamaged) {
			t.Errorf("%s: opening = %v, want ErrDamaged", name, err)
		}
	}
	if _, err := Open(context.Background(), t.TempDir()); err == nil || !strings.Contains(err.Error(), "earstone new") {
		t.Errorf("opening an empty folder = %v, want what to do", err)
	}
}

// TestTamperingIsFound changes a file as somebody with a tool for SQLite could.
func TestTamperingIsFound(t *testing.T) {
	for deed, what := range map[string]string{
		`UPDATE journal SET payload = replace(payload, '"length":"214"', '"length":"241"') WHERE position = 7`: "entry",
		`UPDATE journal SET who = 'bo' WHERE position = 7`:                                                     "entry",
		`UPDATE journal SET written_at = written_at + 1 WHERE position = 7`:                                    "entry",
		`UPDATE journal SET payload = NULL WHERE position = 7`:                                                 "entry",
		`DELETE FROM journal WHERE position = 7`:                                                               "chain",
		`UPDATE journal SET position = 1000 WHERE position = 7`:                                                "chain",
		`DELETE FROM lookup WHERE value = 'QB-00007'`:                                                          "index",
		`UPDATE lookup SET value = 'QB-77777' WHERE value = 'QB-00007'`:                                        "index",
		`UPDATE current SET head = 1 WHERE head = 7`:                                                           "index",
		`DELETE FROM current WHERE head = 7`:                                                                   "index",
		`UPDATE words SET text = 'nothing' WHERE rowid = 7`:                                                    "index",
	} {
		dir := many(t, 20)
		db, err := sql.Open("sqlite", dsn(filepath.Join(dir, File), "mode=rw"))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(deed); err != nil {
			t.Fatalf("%s: %v", deed, err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		s, err := Read(context.Background(), dir)
		if err != nil {
			t.Fatal(err)
		}
		proof, err := s.Verify(context.Background(), nil)
		if err != nil || len(proof.Damage) == 0 || proof.Damage[0].What != what {
			t.Errorf("after %s, verify tells %+v (%v), want damage of the %s", deed, proof.Damage, err, what)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestRemovedWordsAreInNoFile(t *testing.T) {
	ctx := context.Background()
	s := fresh(t)
	var all []*history.Entry
	for i := range 50 {
		all = append(all, card(fmt.Sprint("QB-", i)))
	}
	all[20].Fields["remark"] = "Teodorakis"
	all[20].Raw = history.Fields{"remark": " Teodorakis "}
	keep(t, s, all...)
	if holding(t, s.dir, "eodorakis") == 0 {
		t.Fatal("the word that will be removed is nowhere to begin with")
	}
	if _, err := s.Find(ctx, "Teodorakis", 1); err != nil {
		t.Fatal(err)
	}
	keep(t, s, &history.Entry{Kind: history.Removals, Subject: all[20].Subject, Supersedes: []history.ID{all[20].ID},
		Who: "admin", When: storetest.Noon, Why: "asked to be forgotten"})
	if n := holding(t, s.dir, "eodorakis"); n > 0 {
		t.Errorf("the removed word is still in %d files", n)
	}
	whole(t, s, 51)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func holding(t *testing.T, dir, word string) (n int) {
	t.Helper()
	for _, path := range files(t, dir) {
		content, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(bytes.ToLower(content), []byte(word)) {
			n++
		}
	}
	return n
}

func TestMigrationRunsOnACopy(t *testing.T) {
	ctx := context.Background()
	dir := many(t, 100)
	next := append(migrations[:len(migrations):len(migrations)], migration{"0003_more.sql", "ALTER TABLE current ADD COLUMN more TEXT;"})
	s, err := open(ctx, dir, next)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.w.conn.ExecContext(ctx, "UPDATE current SET more = 'x'"); err != nil {
		t.Errorf("after the step its column is not there: %v", err)
	}
	keep(t, s, card("QB-new"))
	whole(t, s, 101)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, "programme.before-3.sqlite")); err != nil {
		t.Errorf("the file as it was before is not kept: %v", err)
	}
	if _, err := Open(ctx, dir); !errors.Is(err, ErrNewer) {
		t.Errorf("an older program opens a newer file with %v, want ErrNewer", err)
	}
}

func TestMigrationThatFailsChangesNothing(t *testing.T) {
	ctx := context.Background()
	for name, text := range map[string]string{
		"a step that breaks off":       "ALTER TABLE current ADD COLUMN more TEXT; ALTER TABLE nowhere ADD COLUMN more TEXT;",
		"a step that loses an entry":   "DELETE FROM journal WHERE position = 50;",
		"a step that changes an entry": "UPDATE journal SET who = 'me', hash = zeroblob(32) WHERE position = 50;",
	} {
		dir := many(t, 100)
		before, err := os.ReadFile(filepath.Join(dir, File))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := open(ctx, dir, append(migrations[:len(migrations):len(migrations)], migration{"0003_bad.sql", text})); err == nil {
			t.Errorf("%s was taken", name)
		}
		after, err := os.ReadFile(filepath.Join(dir, File))
		if err != nil || !bytes.Equal(before, after) {
			t.Errorf("%s changed the file (%v)", name, err)
		}
		s, err := Open(ctx, dir)
		if err != nil {
			t.Fatalf("after %s: %v", name, err)
		}
		whole(t, s, 100)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestQueriesTakeTheirIndexes holds the plan of each query over a large table.
func TestQueriesTakeTheirIndexes(t *testing.T) {
	s := fresh(t)
	defer s.Close()
	for query, want := range map[string]string{
		"SELECT j.id FROM current AS c JOIN journal AS j ON j.position = c.head WHERE c.kind = 'fish' AND c.heads > 0 ORDER BY c.subject": "current_kind",
		"SELECT j.id FROM current AS c JOIN journal AS j ON j.position = c.head WHERE c.heads > 1 ORDER BY c.subject":                     "current_conflict",
		"SELECT DISTINCT subject FROM lookup WHERE kind = 'fish' AND field = 'trip' AND value = '1' AND subject > x'' ORDER BY subject":   "PRIMARY KEY",
		"SELECT id FROM journal WHERE subject = x'' ORDER BY position":                                                                    "journal_subject",
		"SELECT id FROM journal WHERE position > 5 ORDER BY position":                                                                     "INTEGER PRIMARY KEY",
	} {
		rows, err := s.readers.Query("EXPLAIN QUERY PLAN " + query)
		if err != nil {
			t.Fatal(err)
		}
		plan := ""
		for rows.Next() {
			var id, parent, unused int
			var step string
			if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
				t.Fatal(err)
			}
			plan += step + "; "
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(plan, want) || strings.Contains(plan, "TEMP B-TREE") || strings.Contains(plan, "SCAN j;") {
			t.Errorf("the plan of %s is %s want it by %s, with nothing sorted", query, plan, want)
		}
	}
}
