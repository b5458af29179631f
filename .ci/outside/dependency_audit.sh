#!/usr/bin/env bash
# Published findings about the dependencies: what the registry says, and our list.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/dependency_audit.ts
