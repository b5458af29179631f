#!/usr/bin/env bash
# The kernel under a real client: order, loss, input, interrupts, faults.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_client.py "$@"
