#!/bin/sh
# A job for any CI server: one night of the plan beside this file. Keeps `nights/latest/junit.xml` for the server's test report,
# and the whole folder as an artefact. The history is kept between jobs in KEEP, if the server keeps that folder.
#
#   HIL_RUNNER   the program; hil-runner of the PATH if it is not given
#   KEEP         folder for history and nights; beside this file if not given
set -eu

here=$(cd "$(dirname "$0")" && pwd)
keep=${KEEP:-$here}
program=${HIL_RUNNER:-hil-runner}
if ! command -v "$program" >/dev/null; then
    echo "ci-job.sh: there is no program $program: build it with \"cargo build --release -p hil-runner\", then put" \
        "target/release/hil-runner on the PATH, or name it in HIL_RUNNER" >&2
    exit 2
fi

mkdir -p "$keep"
[ "$keep" = "$here" ] || cp "$here"/*.toml "$keep/"

code=0
"$program" --color=never nightly "$keep/plan.toml" || code=$?

# 0 all met; 1 not all met, or something has changed; 2 bad input, or results were lost; 3 a rig is broken.
echo "reports: $keep/nights/latest/ (junit.xml for the server)"
exit "$code"
