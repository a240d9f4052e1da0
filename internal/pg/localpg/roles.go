package localpg

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"
)

// Prepare makes the three roles and the database where they are missing, over a
// superuser's connection. A role that is made gets the password, unless that is ""; an
// existing role is not changed. Several processes may call it at once.
func Prepare(ctx context.Context, superURL, database, password string) error {
	conn, err := pgx.Connect(ctx, superURL)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx)) // gives the lock back as well
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", setUp); err != nil {
		return err
	}
	for _, role := range []string{Owner, App, Worker} {
		if err := makeRole(ctx, conn, role, password); err != nil {
			return err
		}
	}
	// Of the role, since a pooler takes no settings at the start of a connection.
	for _, role := range []string{App, Worker} {
		if _, err := conn.Exec(ctx, "ALTER ROLE "+role+
			" SET plan_cache_mode = force_generic_plan"); err != nil {
			return fmt.Errorf("set how %s plans: %w", role, err)
		}
	}
	if _, err := conn.Exec(ctx, "GRANT "+App+" TO "+Worker); err != nil {
		return fmt.Errorf("let %s do what %s may: %w", Worker, App, err)
	}
	return makeDatabase(ctx, conn, database)
}

// setUp is the key of the advisory lock for set-up; the number means nothing.
const setUp = 7_203_511_884_015

func makeRole(ctx context.Context, conn *pgx.Conn, role, password string) error {
	var there bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_roles WHERE rolname = $1)",
		role).Scan(&there); err != nil || there {
		return err
	}
	create := "CREATE ROLE " + pgx.Identifier{role}.Sanitize() +
		" LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE"
	if password != "" {
		// A password cannot be a parameter; the server quotes it.
		var quoted string
		if err := conn.QueryRow(ctx, "SELECT quote_literal($1)", password).Scan(&quoted); err != nil {
			return err
		}
		create += " PASSWORD " + quoted
	}
	if _, err := conn.Exec(ctx, create); err != nil {
		return fmt.Errorf("make role %s: %w", role, err)
	}
	return nil
}

func makeDatabase(ctx context.Context, conn *pgx.Conn, name string) error {
	var there bool
	if err := conn.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)",
		name).Scan(&there); err != nil || there {
		return err
	}
	_, err := conn.Exec(ctx, fmt.Sprintf("CREATE DATABASE %s OWNER %s TEMPLATE template0 ENCODING 'UTF8' "+
		"STRATEGY file_copy",
		pgx.Identifier{name}.Sanitize(), Owner))
	if err != nil {
		return fmt.Errorf("make database %s: %w", name, err)
	}
	return nil
}
