// Package pagetest opens pages in a browser, for tests.
package pagetest

import (
	"context"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Path is the browser to test with.
func Path(t testing.TB) string {
	t.Helper()
	if path := os.Getenv("EARSTONE_CHROMIUM"); path != "" {
		if _, err := os.Stat(path); err != nil {
			t.Fatalf("EARSTONE_CHROMIUM is %s, and there is no such program: set it to the path of Chromium, or unset it.", path)
		}
		return path
	}
	const usual = "/usr/bin/chromium"
	if _, err := os.Stat(usual); err != nil {
		t.Skip("There is no Chromium here, so that no page is opened: install it, or set EARSTONE_CHROMIUM to its path.")
	}
	return usual
}

// Browse opens a browser, or skips the test where there is none. The test fails when a
// page writes to its console, as one does that breaks its own policy; lines that hold
// one of the meant texts are passed over.
func Browse(t testing.TB, meant ...string) context.Context {
	t.Helper()
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(Path(t)),
		chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	allocator, closeAll := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(closeAll)
	ctx, closeTab := chromedp.NewContext(allocator)
	t.Cleanup(closeTab)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("starting the browser: %v", err)
	}
	limited, cancel := context.WithTimeout(ctx, 3*time.Minute)
	messages := chromedp.Console(limited)
	done := make(chan []string)
	go func() { done <- linesOf(messages) }()
	t.Cleanup(func() {
		cancel()
		for _, line := range <-done {
			if !slices.ContainsFunc(meant, func(text string) bool { return strings.Contains(line, text) }) {
				t.Errorf("a page writes to the console: %s", line)
			}
		}
	})
	return limited
}

// linesOf are the lines of a console until it is closed.
func linesOf(messages func(func(chromedp.ConsoleMessage, error) bool)) (lines []string) {
	for m, err := range messages {
		if err != nil {
			return lines
		}
		lines = append(lines, m.String())
	}
	return lines
}

// Do does one step after another.
func Do(t testing.TB, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// Ask is what an expression of the page's script is worth.
func Ask[T any](t testing.TB, ctx context.Context, expression string) T {
	t.Helper()
	answer, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("asking %s: %v", expression, err)
	}
	return answer
}

// Prefers sets what the reader's system prefers, light or dark.
func Prefers(scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
}
