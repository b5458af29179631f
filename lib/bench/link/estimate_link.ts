import { type FeedbackRegime, feedbackRegime } from "../../laser/mod.ts";
import {
  benchOptions,
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../../result/mod.ts";
import {
  type LinkBeam,
  returnedFraction,
  spotRadii,
} from "./returned_light.ts";
import { findSurface, type Surface, surfaces } from "./surfaces.ts";

/** Options of {@linkcode estimateLink}. */
export interface EstimateLinkOptions {
  /** Vacuum wavelength, in m. */
  wavelength: number | string;
  /** Distance of the target, in m. */
  distance: number | string;
  /**
   * The target: a name of the table, or its reflectance, kind and gain.
   *
   * @default {"white card"}
   */
  surface?: string | Surface;
  /**
   * Lens and beam.
   *
   * @default {{ kind: "focused", diameter: 3e-3 }}
   */
  beam?: LinkBeam;
  /**
   * Feedback parameter C that is wanted (1): 1 to 3 shows which way the target
   * goes without losing fringes.
   *
   * @default {2}
   */
  wantedFeedbackParameter?: number;
  /**
   * Power transmission of filters and lens, single pass (1).
   *
   * @default {0.9}
   */
  transmission?: number;
  /**
   * Part of the returning field that is in the right place and direction (1).
   *
   * @default {0.3}
   */
  modeOverlap?: number;
  /**
   * Power reflectance of the diode's facet (1).
   *
   * @default {0.32}
   */
  facetReflectance?: number;
  /**
   * Length of the diode's chip, in m.
   *
   * @default {300e-6}
   */
  chipLength?: number | string;
  /**
   * Group index of the chip (1).
   *
   * @default {4}
   */
  groupIndex?: number;
  /**
   * Linewidth enhancement factor α (1).
   *
   * @default {5}
   */
  linewidthEnhancementFactor?: number;
}

export const linkSpec = {
  wavelength: benchOptions.wavelength,
  distance: benchOptions.distance,
  surface: optional(
    handedOption<string | Surface>(
      "The target: a name of the table, or its reflectance, kind and gain.",
      "a name of the table 'surfaces', or { name, reflectance, kind, gain }",
      (value) =>
        typeof value === "string" ||
        typeof value === "object" && value !== null && "kind" in value,
    ),
    "white card",
  ),
  beam: optional(
    handedOption<LinkBeam>(
      "Lens and beam.",
      '{ kind: "focused", diameter } or another beam',
      (value) =>
        typeof value === "object" && value !== null && "kind" in value &&
        (value.kind === "bare"
          ? "divergence" in value && Array.isArray(value.divergence)
          : "diameter" in value),
    ),
    { kind: "focused", diameter: 3e-3 } as LinkBeam,
    "focused, 3 mm wide",
  ),
  wantedFeedbackParameter: optional(
    optionOf.positive("Feedback parameter C that is wanted (1)."),
    2,
  ),
  transmission: optional(
    optionOf.positive(
      "Power transmission of filters and lens, single pass (1).",
    ),
    0.9,
  ),
  modeOverlap: optional(
    optionOf.positive(
      "Part of the returning field that is in the right place (1).",
    ),
    0.3,
  ),
  facetReflectance: optional(
    optionOf.positive("Power reflectance of the diode's facet (1)."),
    0.32,
  ),
  chipLength: optional(
    optionOf.length("Length of the diode's chip, in m.", "300um"),
    300e-6,
  ),
  groupIndex: optional(optionOf.positive("Group index of the chip (1)."), 4),
  linewidthEnhancementFactor: benchOptions.linewidthEnhancementFactor,
} satisfies Record<keyof EstimateLinkOptions, Option>;

/** What one surface gives at this distance. */
export interface SurfaceLink {
  /** The surface. */
  readonly surface: Surface;
  /** Part of the power that gets back into the mode (1). */
  readonly returnedFraction: number;
  /** Signal relative to the white card with the same optics (1). */
  readonly relativeSignal: number;
  /** Feedback parameter C (1). */
  readonly feedbackParameter: number;
  /** Regime of that C. */
  readonly regime: FeedbackRegime;
  /** Filter for the wanted C, single-pass power transmission (1); 1: none. */
  readonly filterTransmission: number;
}

/** How much light comes back and what it does to C. */
export interface LinkEstimate extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.link";
  /**
   * Feedback parameter C (1); good to a factor of two (common practice, no
   * source), with a retroreflecting surface to its order of magnitude.
   */
  readonly feedbackParameter: Quantity;
  /** Regime of that C. */
  readonly regime: FeedbackRegime;
  /** Part of the power that gets back into the mode (1). */
  readonly returnedFraction: number;
  /** Radii of the spot on the target at 1/e², in m. */
  readonly spotRadii: readonly [number, number];
  /** Filter for the wanted C, single-pass power transmission (1). */
  readonly filterTransmission: number;
  /** The same as optical density, -log10 (1). */
  readonly filterDensity: number;
  /** The table of usual surfaces with the same optics. */
  readonly surfaces: readonly SurfaceLink[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Distances of the curve, in m. */
    readonly distances: Float64Array;
    /** C at these distances with the same kind of beam (1). */
    readonly feedbackParameters: Float64Array;
  };
}

const speedOfLight = 299_792_458;

/**
 * Estimates how much light comes back from a target into the diode and the
 * feedback parameter C = (τ/τ_L) ε (1 - R2) sqrt(R_ext/R2) sqrt(1 + α²). C is
 * proportional to the distance, to the root of the returned power and to the
 * single-pass transmission of a filter, which is passed twice.
 *
 * @param options Wavelength, distance, surface, beam, diode.
 * @returns C with its uncertainty, and the filter for a wanted C.
 * @throws {RangeError} If a value is not positive, or the surface unknown.
 *
 * Source: Acket et al. 1984 (from memory); Petermann 1988, chapter 9 (from memory); Siegman 1966 (from memory) (matt);
 * Joyce, DeLoach 1984 (from memory) (mirror).
 *
 * @example A filter of 50 % halves C
 * ```ts
 * import { estimateLink } from "fringebook";
 * import { expect } from "vitest";
 *
 * const options = { wavelength: 650e-9, distance: 0.2 };
 * const clear = estimateLink({ ...options, transmission: 1 });
 * const half = estimateLink({ ...options, transmission: 0.5 });
 * expect(half.feedbackParameter.value / clear.feedbackParameter.value)
 *   .toBeCloseTo(0.5, 9);
 * ```
 */
export function estimateLink(
  options: EstimateLinkOptions,
): LinkEstimate & Shown {
  const read = readOptions(linkSpec, options, "estimate a link");
  const {
    wavelength,
    distance,
    surface,
    beam,
    wantedFeedbackParameter,
    transmission,
    modeOverlap,
    facetReflectance,
    chipLength,
    groupIndex,
    linewidthEnhancementFactor,
  } = read;
  const size = beam.kind === "bare"
    ? Math.min(...beam.divergence)
    : beam.diameter;
  const numbers = {
    wavelength,
    distance,
    wantedFeedbackParameter,
    transmission,
    modeOverlap,
    facetReflectance,
    chipLength,
    groupIndex,
    beam: size,
  };
  for (const [name, value] of Object.entries(numbers)) {
    if (!(value > 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot estimate the link as '${name}' must be a positive number in SI units: current value is ${value}`,
      );
    }
  }
  const target = findSurface(surface);
  const roundTrip = 2 * groupIndex * chipLength / speedOfLight;
  const feedback = (at: number, fraction: number) =>
    2 * at / speedOfLight / roundTrip * modeOverlap * transmission *
    (1 - facetReflectance) * Math.sqrt(fraction / facetReflectance) *
    Math.hypot(1, linewidthEnhancementFactor);
  const white = returnedFraction(
    findSurface("white card"),
    beam,
    wavelength,
    distance,
  );
  const linkOf = (each: Surface): SurfaceLink => {
    const fraction = returnedFraction(each, beam, wavelength, distance);
    const c = feedback(distance, fraction);
    return {
      surface: each,
      returnedFraction: fraction,
      relativeSignal: Math.sqrt(fraction / white),
      feedbackParameter: c,
      regime: feedbackRegime(c),
      filterTransmission: Math.min(1, wantedFeedbackParameter / c),
    };
  };
  const link = linkOf(target);
  const c = link.feedbackParameter;
  const distances = Float64Array.from(
    { length: 120 },
    (_, i) => distance / 10 * 100 ** (i / 119),
  );
  const fractionAt = (at: number) =>
    returnedFraction(target, beam, wavelength, at);
  return createResult<LinkEstimate>({
    kind: "bench.link",
    feedbackParameter: quantity(
      c,
      target.kind === "retroreflecting" ? c : c / 2,
      "1",
    ),
    regime: link.regime,
    returnedFraction: link.returnedFraction,
    spotRadii: spotRadii(beam, wavelength, distance),
    filterTransmission: link.filterTransmission,
    filterDensity: -Math.log10(link.filterTransmission) + 0,
    surfaces: surfaces.map(linkOf),
    warnings: findWarnings(c, wantedFeedbackParameter, target),
    provenance: provenance({
      method: "estimateLink",
      options: { ...read, surface: target },
      sources: [
        "Acket et al. 1984 (from memory)",
        "Petermann 1988 (from memory)",
        "Siegman 1966 (from memory)",
      ],
    }),
    diagnostics: {
      distances,
      feedbackParameters: distances.map((at) => feedback(at, fractionAt(at))),
    },
  });
}

function findWarnings(c: number, wanted: number, target: Surface): Warning[] {
  const warnings: Warning[] = [];
  if (target.kind === "retroreflecting") {
    warnings.push(warn(
      "retroreflector-unknown",
      `How much '${target.name}' sends back differs tenfold between makes, with wear and with the angle: C is known to its order of magnitude alone. Measure it with 'estimateFeedback'`,
      "note",
    ));
  }
  if (c > 4.6) {
    warnings.push(warn(
      "strong-feedback",
      `C is about ${
        c.toPrecision(2)
      }: above 4.6 fringes get lost. Put in a filter that lets ${
        (100 * wanted / c).toPrecision(2)
      } % through, or defocus`,
    ));
  }
  if (c < 0.1) {
    warnings.push(warn(
      "weak-feedback",
      `C is about ${
        c.toPrecision(2)
      }: the fringes are small cosines that do not show the direction. Focus on the target, come nearer or stick retroreflecting sheet on it`,
    ));
  }
  if (target.kind !== "matt") {
    warnings.push(warn(
      "sends-beam-back",
      `The ${target.name} sends the beam back: keep eyes out of its way and fix it before the diode is switched on`,
    ));
  }
  return warnings;
}
