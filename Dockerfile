# crowline in a container, of two stages: one that builds, one that runs.
#
#   docker build -t crowline .
#   docker run --rm -v "$PWD:/work" crowline leg 34.3297,-118.0548 34.3008,-118.0514
#   docker run --rm --network host crowline desk --no-open
#
# The page of the desk answers this machine alone, so the container shares its
# network. Files are read and written in /work.
FROM golang:1.25-trixie AS build
RUN apt-get update \
 && apt-get install -y --no-install-recommends gcc make pkg-config libgdal-dev libproj-dev \
 && rm -rf /var/lib/apt/lists/*
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN make build

FROM debian:trixie-slim
RUN apt-get update \
 && apt-get install -y --no-install-recommends libgdal36 libproj25 proj-data ca-certificates \
 && rm -rf /var/lib/apt/lists/*
COPY --from=build /src/crowline /usr/local/bin/crowline
COPY --from=build /src/LICENSE /src/LICENCES-THIRD-PARTY.txt /usr/local/share/doc/crowline/
WORKDIR /work
ENTRYPOINT ["crowline"]
