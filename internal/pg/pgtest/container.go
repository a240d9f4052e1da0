package pgtest

import (
	"cmp"
	"context"
	"fmt"
	"os"

	"github.com/jackc/pgx/v5"
	dockertypes "github.com/moby/moby/api/types/container"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	"github.com/testcontainers/testcontainers-go/modules/postgres"

	"tankside/internal/pg/localpg"
)

// EnvImage names the variable with the image for tests in a container, when it is not
// localpg.DefaultImage.
const EnvImage = "TANKSIDE_TEST_POSTGRES_IMAGE"

// untilUnused runs in the container and ends the server when it has had no connection
// for a moment. A test program offers pgtest no hook at its end, and may be killed; but
// its connections end with it.
const untilUnused = `(
	unused=0
	while [ $unused -lt 3 ]; do
		sleep 1
		case $(psql -U postgres -d postgres -Atc "SELECT count(*) FROM pg_stat_activity
			WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()") in
		0) unused=$((unused + 1)) ;;
		*) unused=0 ;;
		esac
	done
	kill -INT 1
) >/dev/null 2>&1 &`

// contained starts a server in a container through testcontainers. The engine removes
// the container when the server ends.
func contained(ctx context.Context) (*server, error) {
	log.SetDefault(log.NewNoopLogger())
	image := cmp.Or(os.Getenv(EnvImage), localpg.DefaultImage)
	c, err := postgres.Run(ctx, image,
		postgres.WithUsername(localpg.Super), postgres.WithPassword(rolePassword),
		postgres.WithDatabase(localpg.Super),
		testcontainers.WithCmd("postgres", "-c", "fsync=off", "-c", "synchronous_commit=off", "-c",
			"full_page_writes=off",
			"-c", "autovacuum=off", "-c", "max_connections=200", "-c", "jit=off"),
		testcontainers.WithEnv(map[string]string{"PGDATA": "/data/postgres"}),
		testcontainers.WithHostConfigModifier(func(h *dockertypes.HostConfig) {
			h.AutoRemove = true
			h.Tmpfs = map[string]string{"/data": ""}
		}),
		postgres.BasicWaitStrategies())
	if err != nil {
		return nil, fmt.Errorf("image %s: %w", image, err)
	}
	address, err := c.ConnectionString(ctx, "sslmode=disable")
	if err != nil {
		return nil, err
	}
	s := &server{super: address, password: rolePassword}
	if s.admin, err = pgx.Connect(ctx, address); err != nil {
		return nil, err
	}
	if _, _, err := c.Exec(ctx, []string{"sh", "-c", untilUnused}); err != nil {
		return nil, err
	}
	if err := localpg.Prepare(ctx, address, templateName(), rolePassword); err != nil {
		return nil, err
	}
	return s, nil
}
