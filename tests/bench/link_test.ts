import { describe, expect, it } from "vitest";
import { electricalCautions, estimateLink, surfaces } from "fringebook";

const bench = { wavelength: 650e-9, distance: 0.2 };

describe("estimateLink()", () => {
  it("has C proportional to transmission, distance and root of the light", () => {
    // C = (τ/τ_L) κ sqrt(1 + α²), κ ~ sqrt(R_ext): Acket et al. 1984.
    const clear = estimateLink({ ...bench, transmission: 1 });
    const filtered = estimateLink({ ...bench, transmission: 0.25 });
    expect(filtered.feedbackParameter.value / clear.feedbackParameter.value)
      .toBeCloseTo(0.25, 12);
    const matt = (reflectance: number) =>
      estimateLink({
        ...bench,
        surface: { name: "card", kind: "matt", reflectance, gain: 1 },
      }).feedbackParameter.value;
    expect(matt(0.8) / matt(0.2)).toBeCloseTo(2, 12);
    // A mirror at the focus returns the same light from anywhere.
    const mirror = (distance: number) =>
      estimateLink({ ...bench, distance, surface: "mirror" })
        .feedbackParameter.value;
    expect(mirror(0.4) / mirror(0.2)).toBeCloseTo(2, 12);
  });

  it("gives C = (τ/τ_L) ε (1 - R2) sqrt(R/R2) sqrt(1 + α²) by hand", () => {
    const { feedbackParameter } = estimateLink({
      ...bench,
      surface: { name: "m", kind: "mirror", reflectance: 0.32e-6, gain: 1 },
      transmission: 1,
      modeOverlap: 1,
    });
    // τ/τ_L = 0.2/(4 · 300 µm) = 166.67; κ = 0.68 · 1e-3; sqrt(26).
    expect(feedbackParameter.value)
      .toBeCloseTo(166.6667 * 0.68e-3 * Math.sqrt(26), 5);
  });

  it("returns from a focused matt target the share of the lens ρ (a/L)²", () => {
    // Lambert: the part ρ a²/L² of the light enters a lens of radius a.
    const { returnedFraction } = estimateLink({
      ...bench,
      surface: "white card",
      beam: { kind: "focused", diameter: 4e-3 },
    });
    expect(returnedFraction / (0.8 * (2e-3 / 0.2) ** 2)).toBeCloseTo(1, 9);
  });

  it("orders black, white, retroreflecting and mirror targets", () => {
    const { surfaces: table } = estimateLink({
      ...bench,
      beam: { kind: "collimated", diameter: 3e-3 },
    });
    expect(table.length).toBe(surfaces.length);
    const signal = (name: string) =>
      table.find(({ surface }) => surface.name === name)!.relativeSignal;
    expect(signal("white card")).toBe(1);
    expect(signal("black card")).toBeCloseTo(Math.sqrt(0.05), 9);
    expect(signal("retroreflecting sheet")).toBeGreaterThan(20);
    expect(signal("mirror")).toBeGreaterThan(signal("retroreflecting sheet"));
  });

  it("suggests the filter that brings C where it is wanted", () => {
    const strong = estimateLink({ ...bench, surface: "mirror" });
    expect(strong.warnings.map(({ code }) => code)).toContain(
      "strong-feedback",
    );
    const filtered = estimateLink({
      ...bench,
      surface: "mirror",
      transmission: 0.9 * strong.filterTransmission,
    });
    expect(filtered.feedbackParameter.value).toBeCloseTo(2, 9);
    expect(strong.filterDensity)
      .toBeCloseTo(-Math.log10(strong.filterTransmission), 12);
    expect(strong.warnings.map(({ code }) => code)).toContain(
      "sends-beam-back",
    );
  });

  it("says when too little comes back", () => {
    const bare = estimateLink({
      ...bench,
      beam: { kind: "bare", divergence: [0.24, 0.9] },
    });
    expect(bare.warnings.map(({ code }) => code)).toContain("weak-feedback");
    expect(bare.filterTransmission).toBe(1);
    expect(bare.filterDensity).toBe(0);
  });

  it("lists the surfaces for an unknown name", () => {
    expect(() => estimateLink({ ...bench, surface: "velvet" })).toThrow(
      "white card",
    );
    expect(() => estimateLink({ ...bench, distance: 0 })).toThrow("'distance'");
  });
});

describe("electricalCautions()", () => {
  it("gives the series resistor by Ohm's law", () => {
    const result = electricalCautions({
      ratedCurrent: 0.05,
      greatestCurrent: 0.04,
      supplyVoltage: 5,
      forwardVoltage: 2.2,
    });
    expect(result.seriesResistance).toBeCloseTo(70, 9);
    expect(result.resistorPower).toBeCloseTo(0.112, 9);
    expect(result.warnings).toEqual([]);
  });

  it("speaks of static, reverse voltage, slow start, limits and contacts", () => {
    const text = electricalCautions({ ratedCurrent: 0.05 }).cautions.join(" ");
    for (const word of ["Static", "backwards", "slowly", "Limit", "loose"]) {
      expect(text).toContain(word);
    }
  });

  it("warns of too much current and of a supply too low", () => {
    const codes = (options: Parameters<typeof electricalCautions>[0]) =>
      electricalCautions(options).warnings.map(({ code }) => code);
    expect(codes({ ratedCurrent: 0.05, greatestCurrent: 0.06 }))
      .toContain("over-driven");
    expect(codes({ ratedCurrent: 0.05, supplyVoltage: 2 }))
      .toContain("supply-too-low");
    expect(codes({ ratedCurrent: 0.05, supplyVoltage: 3 }))
      .toContain("poor-regulation");
    expect(() => electricalCautions({ ratedCurrent: 0 })).toThrow(
      "'ratedCurrent'",
    );
  });
});
