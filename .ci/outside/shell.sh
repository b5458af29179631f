#!/usr/bin/env bash
# The tasks as typed in a shell, and every template from top to bottom.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec npx -y deno@2.9.6 run -A .ci/outside/shell.ts "$@"
