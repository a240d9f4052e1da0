package app

import (
	"cmp"
	"runtime/debug"
	"strings"
)

// Version is the name of the release. A build of a release sets it with
// -ldflags "-X tankside/internal/app.Version=…".
var Version string

// Release returns the name of the program's release: Version where it is set, else the
// commit that the program was built from, with " with changes" where its sources were
// changed since, else "unknown".
func Release() string {
	build, ok := debug.ReadBuildInfo()
	if Version != "" || !ok {
		return cmp.Or(Version, "unknown")
	}
	commit, changed := "", ""
	for _, s := range build.Settings {
		switch {
		case s.Key == "vcs.revision":
			commit = s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = " with changes"
		}
	}
	if commit == "" {
		return cmp.Or(strings.Trim(build.Main.Version, "()"), "unknown")
	}
	return commit + changed
}
