package pgtest

import (
	"context"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
)

// Schema returns a description of a whole schema from the catalogue, one line for each
// object, in an order that depends on nothing but the schema: tables, columns,
// constraints, indexes, policies, functions, triggers, views, sequences, types,
// extensions, comments and grants, with their owners. Two databases with equal texts
// have the same schema. Objects of extensions are left out.
func Schema(t testing.TB, url string) string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatalf("pgtest: describe the schema: %v", err)
	}
	defer conn.Close(context.Background())
	rows, err := conn.Query(t.Context(), schemaQuery)
	if err != nil {
		t.Fatalf("pgtest: describe the schema: %v", err)
	}
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		t.Fatalf("pgtest: describe the schema: %v", err)
	}
	return strings.Join(lines, "\n") + "\n"
}

// schemaQuery returns the lines. Names are relative to the search path, and so the same
// for every role.
const schemaQuery = `
WITH space AS (
	SELECT oid, nspname, nspacl, nspowner FROM pg_namespace
	WHERE nspname NOT IN ('pg_catalog', 'information_schema', 'pg_toast') AND nspname !~ '^pg_(toast_)?temp_'
), brought AS ( -- members of extensions
	SELECT classid, objid FROM pg_depend WHERE deptype = 'e'
), relation AS (
	SELECT c.* FROM pg_class c JOIN space s ON s.oid = c.relnamespace
	WHERE (c.oid, 'pg_class'::regclass) NOT IN (SELECT objid, classid FROM brought)
), routine AS (
	SELECT p.* FROM pg_proc p JOIN space s ON s.oid = p.pronamespace
	WHERE (p.oid, 'pg_proc'::regclass) NOT IN (SELECT objid, classid FROM brought)
), own_type AS (
	SELECT ty.* FROM pg_type ty JOIN space s ON s.oid = ty.typnamespace
	WHERE typtype IN ('d', 'e', 'r') AND (ty.oid, 'pg_type'::regclass) NOT IN (SELECT objid, classid
	FROM brought)
), line AS (
	SELECT format('relation %s: %s, owner %s, persistence %s, policies %s%s %s', oid::regclass,
		CASE relkind WHEN 'r' THEN 'table' WHEN 'p' THEN 'partitioned table' WHEN 'v' THEN 'view'
			WHEN 'm' THEN 'materialized view' WHEN 'S' THEN 'sequence' ELSE relkind::text END,
		relowner::regrole, relpersistence, CASE WHEN relrowsecurity THEN 'on' ELSE 'off' END,
		CASE WHEN relforcerowsecurity THEN ' for the owner too' END, reloptions) AS text
	FROM relation WHERE relkind IN ('r', 'p', 'v', 'm', 'S', 'f')
	UNION ALL
	SELECT format('column %s.%s: %s%s%s%s%s', a.attrelid::regclass, quote_ident(attname),
		format_type(atttypid, atttypmod),
		CASE WHEN attnotnull THEN ' not null' END,
		CASE WHEN attidentity <> '' THEN ' identity ' || attidentity::text END,
		CASE attgenerated WHEN '' THEN ' default '
		ELSE ' generated ' || attgenerated::text || ' ' END || pg_get_expr(adbin, adrelid),
		CASE WHEN attcollation <> typcollation THEN ' collation ' || attcollation::regcollation END)
	FROM pg_attribute a JOIN relation r ON r.oid = a.attrelid JOIN pg_type ty ON ty.oid = atttypid
		LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
	WHERE attnum > 0 AND NOT attisdropped AND relkind IN ('r', 'p', 'v', 'm', 'f')
	UNION ALL
	SELECT format('constraint %s %s: %s', conrelid::regclass, quote_ident(conname),
		pg_get_constraintdef(c.oid))
	FROM pg_constraint c JOIN relation r ON r.oid = conrelid WHERE contype <> 't'
	UNION ALL
	SELECT format('constraint of type %s %s: %s', contypid::regtype, quote_ident(conname),
		pg_get_constraintdef(c.oid))
	FROM pg_constraint c JOIN own_type ty ON ty.oid = contypid
	UNION ALL
	SELECT format('index %s%s', pg_get_indexdef(indexrelid), CASE WHEN NOT indisvalid THEN ' (invalid)' END)
	FROM pg_index i JOIN relation r ON r.oid = indrelid WHERE relkind IN ('r', 'p', 'm')
	UNION ALL
	SELECT format('policy %s %s: %s for %s to %s using (%s) with check (%s)', polrelid::regclass,
		quote_ident(polname),
		CASE WHEN polpermissive THEN 'permissive' ELSE 'restrictive' END, polcmd,
		(SELECT string_agg(CASE who WHEN 0 THEN 'public' ELSE who::regrole::text END, ', '
		ORDER BY who::regrole::text) FROM unnest(polroles) who),
		pg_get_expr(polqual, polrelid), pg_get_expr(polwithcheck, polrelid))
	FROM pg_policy
	UNION ALL
	SELECT format('function %s, owner %s: %s', oid::regprocedure, proowner::regrole,
		CASE WHEN prokind = 'a' THEN 'aggregate' ELSE pg_get_functiondef(oid) END) FROM routine
	UNION ALL
	SELECT format('trigger %s (%s)', pg_get_triggerdef(g.oid), tgenabled)
	FROM pg_trigger g JOIN relation r ON r.oid = tgrelid WHERE NOT tgisinternal
	UNION ALL
	SELECT format('query of %s: %s', oid::regclass, pg_get_viewdef(oid))
	FROM relation WHERE relkind IN ('v', 'm')
	UNION ALL
	SELECT format('rule %s', pg_get_ruledef(u.oid))
	FROM pg_rewrite u JOIN relation r ON r.oid = ev_class WHERE rulename <> '_RETURN'
	UNION ALL
	SELECT format('sequence %s: %s from %s by %s, %s to %s, cycle %s', seqrelid::regclass, seqtypid::regtype,
		seqstart,
		seqincrement, seqmin, seqmax, seqcycle)
	FROM pg_sequence q JOIN relation r ON r.oid = seqrelid
	UNION ALL
	SELECT format('type %s: %s %s %s %s', oid::regtype, typtype, format_type(typbasetype, typtypmod),
		typdefault,
		(SELECT string_agg(enumlabel, ', ' ORDER BY enumsortorder)
		FROM pg_enum WHERE enumtypid = own_type.oid)) FROM own_type
	UNION ALL
	SELECT format('extension %s in %s', extname, extnamespace::regnamespace) FROM pg_extension
	UNION ALL
	SELECT format('schema %s, owner %s', nspname, nspowner::regrole) FROM space
	UNION ALL
	SELECT format('comment on %s%s: %s', objoid::regclass,
		(SELECT '.' || attname
		FROM pg_attribute WHERE attrelid = objoid AND attnum = objsubid AND objsubid > 0), description)
	FROM pg_description JOIN relation r ON r.oid = objoid WHERE classoid = 'pg_class'::regclass
	UNION ALL
	SELECT format('comment on %s: %s', objoid::regprocedure, description)
	FROM pg_description JOIN routine r ON r.oid = objoid WHERE classoid = 'pg_proc'::regclass
	UNION ALL
	SELECT format('comment on constraint %s %s: %s', conrelid::regclass, quote_ident(conname), description)
	FROM pg_description JOIN pg_constraint c ON c.oid = objoid JOIN relation r ON r.oid = conrelid
	WHERE classoid = 'pg_constraint'::regclass
	UNION ALL
	SELECT format('grant %s to %s on %s%s', privilege_type, CASE grantee WHEN 0 THEN 'public'
		ELSE grantee::regrole::text END, what,
		CASE WHEN is_grantable THEN ' with grant option' END)
	FROM (
		SELECT oid::regclass::text AS what,
			coalesce(relacl, acldefault(CASE relkind WHEN 'S' THEN 's' ELSE 'r' END::"char", relowner)) AS acl
		FROM relation WHERE relkind IN ('r', 'p', 'v', 'm', 'S', 'f')
		UNION ALL
		SELECT attrelid::regclass || '.' || quote_ident(attname), attacl
		FROM pg_attribute a JOIN relation r ON r.oid = attrelid WHERE attacl IS NOT NULL AND NOT attisdropped
		UNION ALL
		SELECT oid::regprocedure::text, coalesce(proacl, acldefault('f', proowner)) FROM routine
		UNION ALL
		SELECT 'schema ' || nspname, coalesce(nspacl, acldefault('n', nspowner)) FROM space
		UNION ALL
		SELECT format('new things (%s) of %s', defaclobjtype, defaclrole::regrole), defaclacl
		FROM pg_default_acl
	) held, aclexplode(acl)
)
SELECT text FROM line ORDER BY text COLLATE "C"`
