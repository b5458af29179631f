import { describe, expect, it } from "vitest";
import {
  askForUnstated,
  certificateFlags,
  certificateParameters,
} from "../../lib/cli/note/certificate_flags.ts";
import { readFlags } from "../../lib/cli/task/mod.ts";

const typed = (...words: string[]) =>
  readFlags(certificateFlags, words, { task: "calibrate" }).values;
const parameters = (...words: string[]) =>
  certificateParameters(typed(...words), "calibrate");

describe("what a certificate states, from the shell", () => {
  it("leaves to the template what was not given", () => {
    expect(parameters("--operator", "A. Student")).toEqual({
      operator: "A. Student",
    });
    expect(parameters()).toEqual({});
  });
  it("is read with its units", () => {
    expect(parameters("--air", "22,5 °C; 1013 hPa; 40 %")).toEqual({
      air: { temperature: 22.5, pressure: 101300, humidity: 40 },
    });
    expect(parameters("--temperature-range", "21..25")).toEqual({
      temperatureRange: { low: 21, high: 25 },
    });
    expect(
      parameters(
        ...["--instrument", "ammeter: bench 3; 2026-117; 2027-01-31"],
        ...["--instrument", "distance scale: rail 1"],
      ),
    ).toEqual({
      instruments: [
        {
          role: "ammeter",
          identification: "bench 3",
          certificate: "2026-117",
          certificateValidUntil: "2027-01-31T00:00:00.000Z",
        },
        { role: "distance scale", identification: "rail 1" },
      ],
    });
  });
  it("that makes no sense is refused in a sentence", () => {
    for (
      const [words, why] of [
        [["--air", "22 °C, wet"], "cannot read 'wet'"],
        [["--temperature", "warm"], "no number"],
        [["--temperature-range", "25..21"], "such as 21..25"],
        [["--instrument", "ammeter"], 'such as "ammeter: bench 3'],
        [["--instrument", "a: b; c; soon"], 'such as "ammeter: bench 3'],
      ] as const
    ) expect(() => parameters(...words)).toThrow(why);
  });
  it("is asked for on a terminal where it was not given", () => {
    const asked: string[] = [];
    const values = askForUnstated(typed("--item", "D-7"), (question) => {
      asked.push(question);
      return question.startsWith("Laboratory") ? " Room 12 " : "";
    });
    expect(asked.map((question) => question.split(/[ ,]/)[0])).toEqual([
      "Laboratory",
      "Place",
      "Customer",
      "Calibrated",
    ]);
    expect(values).toEqual({ item: "D-7", laboratory: "Room 12" });
  });
});
