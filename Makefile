# What a newcomer needs: make demo, make test. Everything else is for
# contributors (see DEVELOPERS.md).

GO ?= go
export CGO_ENABLED = 1

# The commit goes into the program. Git tells nothing of a clone that somebody
# else owns, and then Go is told not to ask it: it would not build.
COMMIT := $(shell git rev-parse --short=12 HEAD 2>/dev/null)
ifeq ($(COMMIT),)
export GOFLAGS := $(GOFLAGS) -buildvcs=false
endif
VERSION := $(shell cat VERSION)
STAMP = -X crowline/cmd/internal/cli.version=$(VERSION) -X crowline/cmd/internal/cli.commit=$(COMMIT)
PATIENTLY = testdata/patiently.sh

.PHONY: help demo build test tidy race bench torture fuzz licences tools-build tools-test clean

help:
	@echo 'make demo   install what is missing, build, and run the demo'
	@echo 'make test   install what is missing and run every test'
	@echo 'make build  build ./crowline'
	@echo 'make bench  time crowline beside GDAL on the same files'
	@echo 'make torture  ask over 10 000 damaged files (20 minutes; TORTURE=2m)'
	@echo 'make fuzz   fuzz every parser (FUZZTIME=30s each)'

demo: build
	./crowline demo

build: tools-build
	@echo 'Building crowline: one to five minutes the first time, seconds later'
	@$(PATIENTLY) building $(GO) build -ldflags '$(STAMP)' -o crowline ./cmd/crowline


# The licences of what is built in. A test holds the file against go.mod.
licences:
	testdata/licences.sh >LICENCES-THIRD-PARTY.txt

# ./... leaves out folders called testdata.
test: tools-test
	@echo 'Running every test: about ten minutes on two cores'
	@$(PATIENTLY) vetting $(GO) vet ./... ./testdata/bench ./testdata/cumberland ./testdata/torture
	@$(PATIENTLY) testing $(GO) test ./... ./testdata/bench ./testdata/cumberland
	@echo 'Figures of dem/gdalio: damaged files read, and bytes fetched over HTTP'
	@said=$$($(GO) test -v -run '$(FIGURES)' ./dem/gdalio) || { echo "$$said"; exit 1; }; \
	echo "$$said" | sed -n 's/^ *[a-z_]*_test\.go:[0-9]*: /  /p'

# Tests whose counts are worth reading: go test says nothing of what passes.
FIGURES = ^(TestDamagedFiles|TestOnlyTheBlocksOfALegAreFetched|TestLegOfAGigabyte)$$

# Fails where go.mod lists what is not used, or leaves out what is.
tidy: tools-build
	@$(GO) mod tidy -diff || { echo 'go.mod is not tidy: run go mod tidy' >&2; exit 1; }

race: tools-test
	$(GO) test -race ./... ./testdata/bench ./testdata/cumberland

bench: tools-test build
	$(GO) run ./testdata/bench

TORTURE ?= 20m
torture: tools-test build
	$(GO) run ./testdata/torture -for $(TORTURE)

FUZZTIME ?= 30s
fuzz: tools-build
	testdata/fuzz.sh $(FUZZTIME)

tools-build:
	@testdata/install.sh build

tools-test:
	@testdata/install.sh test

clean:
	rm -rf crowline out
