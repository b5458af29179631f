#!/usr/bin/env bash
# The kernel under a real client: order, loss, input, interrupts, faults.
set -euo pipefail
cd "$(dirname "$0")/../.."
FIGURES="first_result rest" .ci/outside/with_kernel \
  /usr/bin/python3 .ci/outside/kernel_figures.py fringebook
exec .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_client.py "$@"
