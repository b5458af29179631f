import { describe, expect, it } from "vitest";
import { parseConnectionFile } from "../../../lib/kernel/mod.ts";

const good = {
  transport: "tcp",
  ip: "127.0.0.1",
  shell_port: 1001,
  iopub_port: 1002,
  stdin_port: 1003,
  control_port: 1004,
  hb_port: 1005,
  key: "secret-key",
  signature_scheme: "hmac-sha256",
  kernel_name: "fringebook",
};

const parse = (changes: Record<string, unknown>) => () =>
  parseConnectionFile(JSON.stringify({ ...good, ...changes }));

describe("parseConnectionFile()", () => {
  it("reads what jupyter_client writes", () => {
    expect(parse({})().hb_port).toBe(1005);
    expect(parse({ key: "", signature_scheme: "" })().signature_scheme)
      .toBe("hmac-sha256");
  });

  it("names the field that is wrong, and never the key", () => {
    expect(parse({ hb_port: 0 })).toThrow(/'hb_port'.*current value is 0/);
    expect(parse({ shell_port: "x" })).toThrow(/'shell_port'/);
    expect(parse({ transport: "pgm" })).toThrow(/'transport'/);
    expect(parse({ ip: 7 })).toThrow(/'ip'/);
    for (const field of Object.keys(good)) {
      try {
        parse({ [field]: null })();
      } catch (error) {
        expect((error as Error).message).not.toContain("secret-key");
      }
    }
  });
});
