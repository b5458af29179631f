#!/usr/bin/env bash
# A project outside of this tree that uses the library, what could be published,
# and what an empty cache must fetch.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
deno run -A .ci/outside/consumer.ts
