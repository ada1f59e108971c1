//go:build unix

package web

import (
	"os/exec"
	"syscall"
)

// ownGroup puts a process and its children into a group of their own.
func ownGroup(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// killGroup ends them at once, without a word.
func killGroup(c *exec.Cmd) { _ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL) }
