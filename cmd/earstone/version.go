package main

import (
	"context"
	"runtime"
)

func versionCommand() command {
	return command{
		name:    "version",
		does:    "Tell which version this is.",
		example: "earstone version",
		takes:   &struct{}{},
		run: func(_ context.Context, to *output) (status, error) {
			to.say("earstone %s, %s/%s", version, runtime.GOOS, runtime.GOARCH)
			return done, nil
		},
	}
}
