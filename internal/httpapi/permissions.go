package httpapi

import (
	"fmt"
	"html/template"
	"slices"

	"github.com/labstack/echo/v4"

	"tankside/internal/access"
	"tankside/internal/actor"
	"tankside/internal/httpapi/answer"
	"tankside/internal/httpapi/contract"
	"tankside/internal/permission"
)

// permissionsPage is the page /docs/permissions.
type permissionsPage struct {
	Roles []actor.Role
	Rows  []permissionsRow
}

// permissionsRow is an operation on the page.
type permissionsRow struct {
	ID, Method, Path, Scope, Note string
	Cells                         []permissionsCell
}

// permissionsCell is how far a role reaches.
type permissionsCell struct {
	Reach  string
	Shared bool // only for a person who has another role too, whose scopes allow it
}

// newPermissionsPage returns the page: a row for each operation of the contract, in the order of the
// table.
func newPermissionsPage(c *contract.Contract) permissionsPage {
	page := permissionsPage{Roles: permission.Roles}
	for _, row := range permission.Table() {
		i := slices.IndexFunc(c.Operations, func(op *contract.Operation) bool { return op.ID == row.Operation })
		page.Rows = append(page.Rows, newPermissionsRow(c.Operations[i], row))
	}
	return page
}

func newPermissionsRow(op *contract.Operation, row permission.Row) permissionsRow {
	out := permissionsRow{ID: op.ID, Method: op.Method, Path: op.Path, Scope: op.Scope, Note: row.Note()}
	for _, role := range permission.Roles {
		cell := permissionsCell{Reach: row.Of(role).String()}
		if row.Of(role) > permission.None && op.Scope != "" {
			cell.Shared = !slices.Contains(access.MostScopes([]actor.Role{role}), actor.Scope(op.Scope))
		}
		out.Cells = append(out.Cells, cell)
	}
	return out
}

var permissionsTemplate = template.Must(template.New("permissions").Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Permissions – Tankside</title>
<style>
body {
	font: 1rem/1.5 system-ui, sans-serif; max-width: 72rem; margin: 0 auto; padding: 1.5rem;
	color: #1a2a33; background: #fff;
}
h1 { font-size: 1.5rem; line-height: 1.2; }
p { max-width: 36rem; }
table { border-collapse: collapse; width: 100%; }
th, td {
	text-align: left; vertical-align: top; padding: .25rem .75rem .25rem 0;
	border-bottom: 1px solid #c5d0d6;
}
thead th { position: sticky; top: 0; background: #fff; text-transform: capitalize; }
code, small { font-size: .875rem; }
tbody th code, tbody th small { font-weight: normal; }
.none { color: #60717b; }
@media (prefers-color-scheme: dark) {
body, thead th { color: #e6eef2; background: #10191e; }
a { color: #8ecbff; }
.none { color: #93a4ad; }
}
</style>
</head>
<body>
<h1>Who may do what</h1>
<p>A token may do an operation when it carries the operation's scope and its holder has a role that
reaches: <b>own</b> is what is about the caller, or what the caller entered, sent or signed;
<b>assigned</b> is the sessions that the caller takes part in, and the people in their charge;
<b>all</b> is everything of the centre. Of several roles the farthest reach counts.
An asterisk (*) marks a role that cannot have the scope alone: the cell counts for a person who also has
a role that can. <code>GET /v1/me</code> lists what the caller's own token may do.</p>
<table>
<thead>
<tr>
<th scope="col">Operation</th><th scope="col">Scope</th>
{{- range .Roles}}<th scope="col">{{.}}</th>{{end}}
</tr>
</thead>
<tbody>
{{range .Rows}}<tr>
<th scope="row">{{.ID}}<br><code>{{.Method}} {{.Path}}</code>
{{- with .Note}}<br><small>{{.}}</small>{{end}}</th>
<td>{{with .Scope}}<code>{{.}}</code>{{end}}</td>
{{- range .Cells}}<td{{if eq .Reach "none"}} class="none"{{end}}>{{.Reach}}{{if .Shared}}*{{end}}</td>{{end}}</tr>
{{end}}</tbody>
</table>
<p><a href="/docs/">The API reference</a></p>
</body>
</html>
`))

// permissions answers the table of permissions as a page.
func (s *server) permissions(c echo.Context) error {
	answer.PageOfText(c)
	c.Response().Header().Set("Cache-Control", anHour)
	if err := permissionsTemplate.Execute(c.Response(), newPermissionsPage(s.contract)); err != nil {
		return fmt.Errorf("write permissions page: %w", err)
	}
	return nil
}
