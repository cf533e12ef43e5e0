# rowbell in a container: one static binary and the certificates that a push
# over TLS needs. Records live in the volume /data.
#
#   docker build -t rowbell .
#   docker run -p 8080:8080 -v rowbell:/data rowbell

FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
# What rowbell --version says: docker build --build-arg VERSION=1.2.3
ARG VERSION=unknown
# The same flags as in .ci/run. SQLite is C, so the linking is external.
RUN go build -trimpath -tags osusergo,netgo,sqlite_omit_load_extension \
      -ldflags "-s -w -X main.version=$VERSION -funcalign=16 -linkmode external -extldflags '-static'" -o /out/rowbell ./cmd/rowbell
RUN mkdir -p /out/data

FROM scratch
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/
COPY --from=build /out/rowbell /rowbell
COPY --from=build --chown=65532:65532 /out/data /data
USER 65532:65532
# SQLite may write scratch files to the working directory: there is no /tmp.
WORKDIR /data
VOLUME /data
EXPOSE 8080
HEALTHCHECK --interval=30s --timeout=5s --start-period=10s \
  CMD ["/rowbell", "health"]
ENTRYPOINT ["/rowbell"]
CMD ["serve", "--listen", "0.0.0.0:8080", "--db", "/data/rowbell.db"]
