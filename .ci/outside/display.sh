#!/usr/bin/env bash
# Figures and reports in a real browser and in JupyterLab's own renderers.
set -euo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
lab=out/outside-display/lab
mkdir -p "$lab"
cat >"$lab/package.json" <<'JSON'
{
  "private": true,
  "dependencies": {
    "@jupyterlab/rendermime": "4.6.6",
    "esbuild": "0.25.12"
  }
}
JSON
cp .ci/outside/lab_renderer.ts "$lab/lab_renderer.ts"
echo '{ "nodeModulesDir": "auto" }' >"$lab/deno.json"
(cd "$lab" && deno install --quiet && deno run -A --quiet npm:esbuild@0.25.12 \
  lab_renderer.ts --bundle --format=iife --platform=browser --log-level=error \
  --loader:.svg=text --loader:.css=empty --define:global=globalThis \
  --outfile=lab.js)
deno run -A .ci/outside/display.ts "$@"
