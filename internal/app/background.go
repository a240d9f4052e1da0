package app

import (
	"context"
	"log/slog"
	"strings"

	"tankside/internal/config"
	"tankside/internal/offline"
	"tankside/internal/pg"
)

// background is the work of an instance beside answering requests, over connections of
// its own as the role tankside_worker.
type background struct {
	db      *pg.DB
	offline *offline.Service
	log     *slog.Logger
}

// openBackground connects for background work, where the settings have an address for it.
func openBackground(ctx context.Context, cfg config.Config, log *slog.Logger) (*background, error) {
	if cfg.Worker == "" {
		log.Warn("this instance judges nothing in the background; another one has to", "missing",
			"TANKSIDE_WORKER_DATABASE_URL")
		return nil, nil
	}
	db, err := pg.Open(ctx, limitConnections(string(cfg.Worker)))
	if err != nil {
		return nil, err
	}
	return &background{db: db, offline: NewServices(db).Offline, log: log}, nil
}

// limitConnections returns an address with the most connections that background work may take, our
// choice, where the address itself has none.
func limitConnections(address string) string {
	if strings.Contains(address, "pool_max_conns") {
		return address
	}
	separator := "?"
	if strings.Contains(address, "?") {
		separator = "&"
	}
	return address + separator + "pool_max_conns=4"
}

// run judges entries that are due until ctx is over.
func (b *background) run(ctx context.Context) {
	if b != nil {
		b.offline.Background(ctx, b.log)
	}
}

func (b *background) close() {
	if b != nil {
		b.db.Close()
	}
}
