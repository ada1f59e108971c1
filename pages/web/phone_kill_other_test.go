//go:build !unix

package web

import "os/exec"

func ownGroup(*exec.Cmd) {}

func killGroup(c *exec.Cmd) { _ = c.Process.Kill() }
