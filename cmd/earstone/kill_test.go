package main

import (
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// invent writes a small invented programme and answers its folder.
func invent(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	said, err := exec.Command("earstone", "demo", "--size", "small", "--replicates", "40", "--key", "agreed_direct", "--dir", dir).CombinedOutput()
	if err != nil {
		t.Fatalf("earstone demo: %v\n%s", err, said)
	}
	return filepath.Join(dir, "programme")
}

// wholeResult tells what is wrong with a folder of results, if anything.
func wholeResult(dir string) error {
	text, err := os.ReadFile(filepath.Join(dir, "run.json"))
	if err != nil {
		return err
	}
	var about about
	if err := json.Unmarshal(text, &about); err != nil {
		return err
	}
	for _, name := range []string{"ages.csv", "key.csv", "catch_at_age.csv", "catch_at_age_covariance.csv", "report.html"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		if len(text) == 0 || text[len(text)-1] != '\n' {
			return errors.New(name + " has no end")
		}
		if strings.HasSuffix(name, ".csv") && name != "ages.csv" && !strings.HasSuffix(string(text), about.Run+"\n") {
			return errors.New(name + " is of another run")
		}
	}
	return nil
}

// TestKilledRunLeavesNoHalf kills estimates at many moments, from before the first byte is
// read to after the last is written. Whatever is left must be no result or a whole one,
// and an earlier result must never be lost.
func TestKilledRunLeavesNoHalf(t *testing.T) {
	src := invent(t)
	out := filepath.Join(t.TempDir(), "results")
	moments := 30
	if testing.Short() {
		moments = 8
	}
	estimate := func(seed string) *exec.Cmd {
		return exec.Command("earstone", "estimate", src, "--out", out, "--replicates", "200", "--key", "agreed_direct", "--seed", seed)
	}
	begun := time.Now()
	if said, err := estimate("1").CombinedOutput(); err != nil {
		t.Fatalf("earstone estimate: %v\n%s", err, said)
	}
	takes := time.Since(begun)
	killed := 0
	for moment := range moments {
		replacing := moment%2 == 1 // every other time over an earlier result
		if !replacing {
			if err := os.RemoveAll(out); err != nil {
				t.Fatal(err)
			}
		}
		run := estimate("2")
		if err := run.Start(); err != nil {
			t.Fatal(err)
		}
		timer := time.AfterFunc(takes*time.Duration(moment)/time.Duration(moments-4), func() { _ = run.Process.Kill() })
		err := run.Wait()
		timer.Stop()
		if err != nil {
			killed++
		}
		_, statErr := os.Stat(out)
		switch {
		case errors.Is(statErr, os.ErrNotExist) && !replacing && err != nil:
		case errors.Is(statErr, os.ErrNotExist) && betweenNames(t, out):
			// Killed between the two renames: the next run puts the earlier result back.
		default:
			if broken := wholeResult(out); broken != nil {
				t.Errorf("Killed at moment %d of %d, an estimate leaves %s as no whole result: %v.", moment, moments, out, broken)
			}
		}
		if replacing {
			continue
		}
		// What the killed one left beside is cleared away by the next, which leaves a result to replace.
		if said, err := estimate("3").CombinedOutput(); err != nil {
			t.Fatalf("The estimate after a killed one: %v\n%s", err, said)
		}
	}
	if killed == 0 {
		t.Errorf("Of %d estimates none was killed before its end; the moments are too late.", moments)
	}
	if said, err := estimate("4").CombinedOutput(); err != nil {
		t.Fatalf("The last estimate: %v\n%s", err, said)
	}
	left, err := os.ReadDir(filepath.Dir(out))
	if err != nil {
		t.Fatal(err)
	}
	if len(left) != 1 {
		t.Errorf("Beside the results lies what killed runs left: %v.", left)
	}
}

// betweenNames tells whether an earlier result is put aside beside the target.
func betweenNames(t *testing.T, out string) bool {
	t.Helper()
	aside, err := filepath.Glob(filepath.Join(filepath.Dir(out), ".results.earstone-old-*"))
	if err != nil {
		t.Fatal(err)
	}
	return len(aside) == 1 && wholeResult(aside[0]) == nil
}

// TestInterruptedRunSaysSo interrupts a long run: it must stop soon, with status 3 and a
// sentence, and leave nothing.
func TestInterruptedRunSaysSo(t *testing.T) {
	src := invent(t)
	out := filepath.Join(t.TempDir(), "results")
	run := exec.Command("earstone", "estimate", src, "--out", out, "--replicates", "100000")
	var said strings.Builder
	run.Stderr = &said
	if err := run.Start(); err != nil {
		t.Fatal(err)
	}
	stop := time.AfterFunc(400*time.Millisecond, func() { _ = run.Process.Signal(os.Interrupt) })
	defer stop.Stop()
	var ended *exec.ExitError
	if err := run.Wait(); !errors.As(err, &ended) || ended.ExitCode() != int(failed) {
		t.Errorf("An interrupted estimate ends with %v (%v), want status 3.", ended, err)
	}
	if !strings.Contains(said.String(), "earstone: estimate was stopped before its end; nothing half done was left behind.") {
		t.Errorf("An interrupted estimate says %q.", said.String())
	}
	if left, err := os.ReadDir(filepath.Dir(out)); err != nil || len(left) != 0 {
		t.Errorf("An interrupted estimate leaves %v (%v), want nothing.", left, err)
	}
}
