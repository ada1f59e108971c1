package main

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// browsers are programs that print a page without a window, in the order of asking.
var browsers = []string{"chromium", "chromium-browser", "google-chrome", "chrome"}

// findBrowser is the browser that was asked for, or the first that is there; empty when
// there is none, or when none is wanted.
func findBrowser(asked string) (string, error) {
	switch asked {
	case "none":
		return "", nil
	case "auto":
		for _, name := range browsers {
			if path, err := exec.LookPath(name); err == nil {
				return path, nil
			}
		}
		return "", nil
	}
	path, err := exec.LookPath(asked)
	if err != nil {
		return "", fmt.Errorf("--browser %s: %w", asked, err)
	}
	return path, nil
}

// printPage makes a PDF of a page by a browser.
func printPage(ctx context.Context, browser, page, pdf string) error {
	ctx, stop := context.WithTimeout(ctx, 3*time.Minute)
	defer stop()
	profile, err := os.MkdirTemp("", "earstone-print-")
	if err != nil {
		return fmt.Errorf("printing %s: %w", page, err)
	}
	defer os.RemoveAll(profile) // of no use any more, whatever became of the print
	whole, err := filepath.Abs(page)
	if err != nil {
		return fmt.Errorf("printing %s: %w", page, err)
	}
	out := filepath.Join(profile, "page.pdf")
	args := []string{"--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
		"--disable-sync", "--disable-quic", "--no-pdf-header-footer", "--user-data-dir=" + profile, "--print-to-pdf=" + out}
	if os.Geteuid() == 0 {
		args = append(args, "--no-sandbox") // as root a browser starts with no other setting; the page is ours, without script
	}
	cmd := exec.CommandContext(ctx, browser, append(args, (&url.URL{Scheme: "file", Path: filepath.ToSlash(whole)}).String())...)
	cmd.WaitDelay = 5 * time.Second
	err = cmd.Run()
	content, readErr := os.ReadFile(out)
	if err = errors.Join(err, readErr); err != nil {
		return fmt.Errorf("printing %s by %s: %w", page, browser, err)
	}
	return replace(pdf, content)
}
