import { diode, node, terminal } from "../circuit.ts";
import { box, drawing, inks, label, line, type Point } from "../svg.ts";

/** One way in which the three leads are joined inside. */
export interface LeadArrangement {
  /** `"A"`, `"B"`, `"C"`. */
  readonly letter: string;
  /** Lead of the laser that is joined with the can. */
  readonly laserOnCan: "anode" | "cathode";
  /** Lead of the photodiode that is joined with the can. */
  readonly photodiodeOnCan: "anode" | "cathode";
}

/**
 * The ways in which laser and photodiode are usually joined in a can with three
 * leads (common practice, no source).
 */
export const arrangements: readonly LeadArrangement[] = [
  { letter: "A", laserOnCan: "anode", photodiodeOnCan: "cathode" },
  { letter: "B", laserOnCan: "cathode", photodiodeOnCan: "anode" },
  { letter: "C", laserOnCan: "cathode", photodiodeOnCan: "cathode" },
];

/** Sign of the laser's supply against the can. */
export function supplySign({ laserOnCan }: LeadArrangement): 1 | -1 {
  return laserOnCan === "cathode" ? 1 : -1;
}

/**
 * Sign of the amplifier's output for more light, with the can at 0 V: the light's
 * current leaves a photodiode at its anode, and an amplifier with feedback answers
 * a current that flows into it with a negative voltage.
 */
export function outputSign({ photodiodeOnCan }: LeadArrangement): 1 | -1 {
  return photodiodeOnCan === "anode" ? 1 : -1;
}

const other = (lead: "anode" | "cathode") =>
  lead === "anode" ? "cathode" : "anode";

const signed = (sign: 1 | -1) => sign > 0 ? "+" : "−";

function panel(arrangement: LeadArrangement, left: number): string {
  const { letter, laserOnCan, photodiodeOnCan } = arrangement;
  const middle = left + 120;
  const top = 92;
  const bottom = 212;
  const laserX = middle - 58;
  const photodiodeX = middle + 58;
  const can: Point = [middle, top];
  const upright = (x: number, onCan: "anode" | "cathode"): [Point, Point] => {
    const upper: Point = [x, top];
    const lower: Point = [x, bottom];
    return onCan === "anode" ? [upper, lower] : [lower, upper];
  };
  const [laserAnode, laserCathode] = upright(laserX, laserOnCan);
  const [photoAnode, photoCathode] = upright(photodiodeX, photodiodeOnCan);
  return [
    label([middle, 30], `Arrangement ${letter}`, { size: 15, bold: true }),
    box([left + 22, 62], 196, 128, {
      colour: inks.quiet,
      dash: "6 4",
      width: 1.2,
    }, 14),
    line([[laserX, top], [photodiodeX, top]]),
    diode(
      laserAnode,
      laserCathode,
      "out",
      laserOnCan === "anode" ? -1 : 1,
    ),
    diode(
      photoAnode,
      photoCathode,
      "in",
      photodiodeOnCan === "anode" ? 1 : -1,
    ),
    node(can),
    line([can, [middle, bottom]]),
    terminal([laserX, bottom]),
    terminal([middle, bottom]),
    terminal([photodiodeX, bottom]),
    label([laserX, 84], "laser", { size: 12, colour: inks.quiet }),
    label([photodiodeX, 84], "photodiode", { size: 12, colour: inks.quiet }),
    label([laserX - 4, 234], ["laser", other(laserOnCan)], { size: 12 }),
    label([middle, 234], ["can,", "0 V"], { size: 12, bold: true }),
    label([photodiodeX + 10, 234], ["photodiode", other(photodiodeOnCan)], {
      size: 12,
    }),
    label([middle, 284], `laser supply ${signed(supplySign(arrangement))}`, {
      size: 13,
    }),
    label(
      [middle, 304],
      `more light: output ${signed(outputSign(arrangement))}`,
      { size: 13 },
    ),
  ].join("\n");
}

/** The leads of common cans by role. */
export function leadsDrawing(): string {
  return drawing(
    {
      width: 760,
      height: 324,
      title: "The three leads of a can by role",
      description:
        "Three arrangements of a laser diode and its monitor photodiode in one can. " +
        arrangements.map((each) =>
          `${each.letter}: the can is joined with the ${each.laserOnCan} of the laser and the ${each.photodiodeOnCan} of the photodiode; with the can at 0 V the laser needs a ${
            supplySign(each) > 0 ? "positive" : "negative"
          } supply, and more light makes the output of the amplifier ${
            outputSign(each) > 0 ? "positive" : "negative"
          }.`
        ).join(" "),
    },
    ...arrangements.map((each, index) => panel(each, 12 + 247 * index)),
    line([[254, 24], [254, 304]], { colour: inks.faint, width: 1 }),
    line([[506, 24], [506, 304]], { colour: inks.faint, width: 1 }),
  );
}
