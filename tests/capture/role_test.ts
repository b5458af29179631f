import { describe, expect, it } from "vitest";
import { parseCapture } from "fringebook";
import { parseQuantity, parseUnit, recogniseRole } from "fringebook/capture";

// Words of the trade: common practice, no source.
describe("recogniseRole", () => {
  it("knows the names of the two ends of a laser diode", () => {
    const names: [string, string, string | null][] = [
      ["monitor", "V", "monitor signal"],
      ["Photodiode", "V", "monitor signal"],
      ["PD", "A", "monitor signal"],
      ["monitor_current", "A", "monitor signal"],
      ["laser monitor", "V", "monitor signal"],
      ["SMI signal", "V", "monitor signal"],
      ["drive", "A", "drive current"],
      ["drive", "V", "drive voltage"],
      ["laser current", "A", "drive current"],
      ["laser_current_monitor", "V", "drive voltage"],
      ["LD voltage", "1", "drive voltage"],
      ["ramp", "V", "drive voltage"],
      ["trigger signal", "V", "other"],
      ["stage position", "m", "other"],
      ["CH1", "V", null],
      ["PDA10", "V", null],
      ["A", "A", null],
    ];
    expect(names.map(([name, unit]) => recogniseRole(name, unit)))
      .toEqual(names.map(([, , role]) => role));
  });
});

describe("roles of a file", () => {
  const roles = (heading: string, options = {}) =>
    parseCapture(
      new TextEncoder().encode(`time (s),${heading}\n0,1,2\n1,2,3\n2,3,4\n`),
      options,
    ).channels.map(({ role }) => role);
  it("take the one left for the monitor signal", () => {
    expect(roles("CH1 (V),ramp (V)")).toEqual([
      "monitor signal",
      "drive voltage",
    ]);
    expect(roles("CH1 (V),CH2 (mA)")).toEqual([
      "monitor signal",
      "drive current",
    ]);
  });
  it("stay open where nothing tells, and follow the caller", () => {
    expect(roles("CH1 (V),CH2 (V)")).toEqual(["other", "other"]);
    expect(roles("CH1 (V),CH2 (V)", {
      channels: {
        CH2: "monitor signal",
        0: { role: "drive current", unit: "A", scale: 0.1 },
      },
    })).toEqual(["drive current", "monitor signal"]);
  });
});

// SI prefixes: BIPM SI brochure, 9th edition, table 7.
describe("parseUnit", () => {
  it("knows prefixes as symbols and as words", () => {
    const units: [string, string, number][] = [
      ["V", "V", 1],
      ["mV", "V", 1e-3],
      ["µA", "A", 1e-6],
      ["uA", "A", 1e-6],
      ["nm", "m", 1e-9],
      ["kHz", "Hz", 1e3],
      ["MSa/s", "Hz", 1e6],
      ["microseconds", "s", 1e-6],
      ["Volts", "V", 1],
      ["kOhm", "Ω", 1e3],
      ["%", "1", 0.01],
    ];
    for (const [text, unit, factor] of units) {
      expect(parseUnit(text)).toEqual({ unit, factor });
    }
    expect(parseUnit("parsec")).toBe(null);
  });
  it("reads numbers with units", () => {
    expect(parseQuantity("2.5 MSa/s")).toEqual({ value: 2.5e6, unit: "Hz" });
    expect(parseQuantity("1e-6")).toEqual({ value: 1e-6, unit: null });
    expect(parseQuantity("about 5 V")).toBe(null);
  });
});
