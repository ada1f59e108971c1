# What can be done with the tree; `make` alone lists it. The scripts are in .ci.

# Where Go's own installer puts it, for shells that were not told.
export PATH := $(PATH):/usr/local/go/bin

VERSION = $(shell git describe --tags --always --dirty 2>/dev/null || echo unversioned)

# Settings of fuzz, bench, load and rehearse, to be changed on the command line.
export FUZZTIME ?= 30s
export COUNT ?= 6
export BENCH ?= .
SEASONS ?= 200
LOAD ?= 200000

.PHONY: help demo build test smoke bench load fuzz cover rehearse clean

help: ## list what can be done
	@awk -F ':.*## ' '/^[a-z]+:.*## / { printf "make %-9s %s\n", $$1, $$2 }' Makefile

demo: build ## the whole job on an invented season, in the folder demo
	bin/earstone demo --size season --dir demo

build: ## bin/earstone, one file that needs nothing beside it
	@.ci/needs go
	CGO_ENABLED=0 go build -trimpath -buildvcs=false -ldflags '-s -w -X main.version=$(VERSION)' -o bin/earstone ./cmd/earstone

test: ## every check there is: format, vet, staticcheck, tests, races, smoke
	@.ci/test

smoke: build ## a small invented programme through the built program
	@.ci/smoke

bench: ## all benchmarks, compared with those of the last commit that has any (COUNT=6, BENCH=regexp)
	@.ci/bench

load: ## twenty people typing beside LOAD fish (200000): how long the pages of intake take
	@.ci/needs go
	EARSTONE_LOAD=$(LOAD) go test -count=1 -timeout 30m -run 'TestLoad$$' -v ./pages/web

fuzz: ## each fuzz target for FUZZTIME (30s)
	@.ci/fuzz

cover: ## share of the code that the tests reach, by function in .cache/cover.txt
	@.ci/needs go
	@mkdir -p .cache
	go test -coverpkg=./... -coverprofile=.cache/cover.out ./...
	@go tool cover -func=.cache/cover.out > .cache/cover.txt
	@tail -n 1 .cache/cover.txt

rehearse: build ## many seasons of known truth through the whole chain: bias and coverage (SEASONS=200 small ones, a fifth as many large)
	bin/earstone rehearse --size small --seasons $(SEASONS) --out docs/rehearsal-small.md
	bin/earstone rehearse --size season --seasons $$(( ($(SEASONS) + 4) / 5 )) --out docs/rehearsal-season.md

clean: ## remove what the targets above wrote
	rm -rf bin demo .cache
