/** What a client wrote in the connection file; holds the key, so never logged. */
export interface ConnectionInfo {
  /** How the sockets are reached. */
  readonly transport: "tcp" | "ipc";
  /** Address for tcp, path prefix for ipc. */
  readonly ip: string;
  /** Port of requests. */
  readonly shell_port: number;
  /** Port of what is told to all clients. */
  readonly iopub_port: number;
  /** Port of input. */
  readonly stdin_port: number;
  /** Port of requests that do not wait for a cell. */
  readonly control_port: number;
  /** Port of the heartbeat. */
  readonly hb_port: number;
  /** Key of the signatures. */
  readonly key: string;
  /** How messages are signed. */
  readonly signature_scheme: string;
}

/** Names of the five sockets in the connection file. */
export const PORT_FIELDS = [
  "shell_port",
  "iopub_port",
  "stdin_port",
  "control_port",
  "hb_port",
] as const;

/**
 * Reads a connection file.
 *
 * @param text Text of a connection file.
 * @returns Its fields, checked.
 * @throws {TypeError} If a field is missing or not of its kind.
 * @throws {SyntaxError} If it is not JSON.
 *
 * @example
 * ```ts
 * import { parseConnectionFile } from "fringebook/kernel";
 * import { expect } from "vitest";
 *
 * const info = parseConnectionFile(JSON.stringify({
 *   transport: "tcp",
 *   ip: "127.0.0.1",
 *   shell_port: 40001,
 *   iopub_port: 40002,
 *   stdin_port: 40003,
 *   control_port: 40004,
 *   hb_port: 40005,
 *   key: "",
 *   signature_scheme: "hmac-sha256",
 * }));
 * expect(info.shell_port).toBe(40001);
 * ```
 */
export function parseConnectionFile(text: string): ConnectionInfo {
  const fields: Record<string, unknown> = JSON.parse(text);
  const { transport = "tcp", ip, key = "", signature_scheme = "hmac-sha256" } =
    fields;
  if (transport !== "tcp" && transport !== "ipc") {
    throw new TypeError(
      `Cannot use the connection file as 'transport' must be "tcp" or "ipc": current value is ${
        JSON.stringify(transport)
      }`,
    );
  }
  if (typeof ip !== "string" || ip === "") {
    throw new TypeError(
      `Cannot use the connection file as 'ip' must be text: current value is ${
        JSON.stringify(ip)
      }`,
    );
  }
  const ports = PORT_FIELDS.map((field) => {
    const port = fields[field];
    if (
      typeof port !== "number" || !Number.isInteger(port) || port < 1 ||
      port > 65535
    ) {
      throw new TypeError(
        `Cannot use the connection file as '${field}' must be a port from 1 to 65535: current value is ${
          JSON.stringify(port)
        }`,
      );
    }
    return [field, port];
  });
  return {
    transport,
    ip,
    key: String(key),
    signature_scheme: key === "" && signature_scheme === ""
      ? "hmac-sha256"
      : String(signature_scheme),
    ...Object.fromEntries(ports),
  } as ConnectionInfo;
}
