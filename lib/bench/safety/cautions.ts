import type { LaserClass } from "./laser_safety.ts";

/** What the cautions depend on. */
export interface CautionInput {
  readonly laserClass: LaserClass;
  readonly visible: boolean;
  /** Whether a lens has made the beam parallel. */
  readonly collimated: boolean;
  /** Class if all light went into the eye. */
  readonly collectedClass: LaserClass;
}

/** Cautions in words, most important first. */
export function findCautions(input: CautionInput): string[] {
  const { laserClass, visible, collimated, collectedClass } = input;
  const cautions: string[] = [];
  if (laserClass === "3B" || laserClass === "4") {
    cautions.push(
      `Class ${laserClass}: even a short look harms the eye. Do not switch on without your laser safety officer, a closed beam path and eyewear for this wavelength`,
    );
  } else if (laserClass === "3R") {
    cautions.push(
      "Class 3R: do not look into the beam or its mirror image; only instructed people work with it",
    );
  } else {
    cautions.push("Do not look into the beam or its mirror image on purpose");
  }
  if (!visible) {
    cautions.push(
      "Near infrared: the beam cannot be seen, or looks like a faint red spot, and the eye does not blink; there is no Class 2. Find the beam with a viewing card, never with the eye",
    );
  } else if (laserClass === "2" || laserClass === "2M") {
    cautions.push(
      "Class 2 relies on the blink reflex within 0.25 s: alcohol, medicines or staring on purpose defeat it",
    );
  }
  cautions.push(
    collimated
      ? "A parallel beam is as strong across the room as at the lens: keep it below or above eye height and stop it on a matt screen"
      : "A bare diode spreads its light; behind a lens the same light becomes a parallel beam that reaches far",
    "A retroreflector, mirror or shiny tool sends the beam back into the room and to the diode: fix it before the diode is switched on",
  );
  if (
    laserClass === "1M" || laserClass === "2M" ||
    collectedClass !== laserClass
  ) {
    cautions.push(
      `No loupe, telescope or camera with an eyepiece: with all the light in the eye it is Class ${collectedClass}`,
    );
  }
  cautions.push(
    "More drive current than the label allows, also at the top of a ramp, gives more light and perhaps a higher class",
  );
  return cautions;
}
