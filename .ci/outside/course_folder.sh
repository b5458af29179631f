#!/usr/bin/env bash
# The commands of the guide's page on teaching: a new course, a class of thirty,
# hand-ins, marks, a report as PDF.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/course_folder.ts
