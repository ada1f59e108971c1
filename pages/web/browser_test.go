package web

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

// browserPath is the browser to test with.
func browserPath(t *testing.T) string {
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

// browse opens a browser, and fails when a page writes an error to its console until the
// test ends: a page that breaks its own policy does.
func browse(t *testing.T) context.Context {
	t.Helper()
	options := append(slices.Clone(chromedp.DefaultExecAllocatorOptions[:]), chromedp.ExecPath(browserPath(t)),
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
	go func() { done <- errorsIn(messages) }()
	t.Cleanup(func() {
		cancel()
		for _, text := range <-done {
			t.Errorf("a page writes to the console: %s", text)
		}
	})
	return limited
}

// errorsIn are the complaints of a console until it is closed.
func errorsIn(messages func(func(chromedp.ConsoleMessage, error) bool)) (texts []string) {
	for m, err := range messages {
		if err != nil {
			return texts
		}
		if text := m.String(); !strings.Contains(text, "the server responded with a status of 4") { // a form that is refused, meant so
			texts = append(texts, text)
		}
	}
	return texts
}

func must(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func tell[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	answer, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("asking %s: %v", expression, err)
	}
	return answer
}

// prefers sets what the reader's system prefers, light or dark.
func prefers(scheme string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return err
	})
}
