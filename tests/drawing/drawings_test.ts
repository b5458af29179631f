import { describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";
import { checkFrontEnd, measureDistance, stepsFromScreen } from "fringebook";
import { motionFromScreen } from "fringebook/motion";
import {
  amplifierParts,
  currentPerVoltage,
  driveParts,
  feedbackCorner,
  forwardVoltages,
  fringeVoltage,
  laserCurrent,
  leadTest,
  modulationCorner,
  outputVoltage,
} from "../../lib/drawing/bench_values.ts";
import { drawnRamp, drawnStroke } from "../../lib/drawing/drawings/by_hand.ts";
import {
  arrangements,
  outputSign,
  supplySign,
} from "../../lib/drawing/drawings/leads.ts";
import { guideDrawings, worksheetPage } from "../../lib/drawing/mod.ts";
import { task as drawings } from "../../lib/cli/drawings.ts";
import { task as worksheet } from "../../lib/cli/worksheet.ts";
import { writeGuidePages } from "../../lib/cli/tour/guide_pages.ts";
import { loadTextMetrics } from "../../lib/display/picture/text_metrics.ts";
import { typed } from "../cli/typed.ts";

const guide = fromFileUrl(
  new URL("../../notebooks/guide/", import.meta.url),
);
const made = Object.entries(guideDrawings).map(([name, draw]) => ({
  name,
  svg: draw(),
}));

interface Box {
  readonly text: string;
  readonly left: number;
  readonly right: number;
  readonly top: number;
  readonly bottom: number;
}

const metrics = await loadTextMetrics();

/** Where the texts of a drawing are, in a font a ninth wider than condensed. */
function textBoxes(svg: string): Box[] {
  return [...svg.matchAll(/<text([^>]*)>([^<]*)<\/text>/g)]
    .filter(([, , text]) => text !== "")
    .map(([, attributes = "", text = ""]) => {
      const number = (name: string) =>
        Number(new RegExp(` ${name}="([^"]*)"`).exec(attributes)![1]);
      const plain = text.replace(/&\w+;/g, "x");
      const size = number("font-size");
      const bold = attributes.includes("bold") ? 1.1 : 1;
      const width = bold * metrics.width(plain, size) / 0.9;
      const anchor = /text-anchor="(\w+)"/.exec(attributes)![1];
      const x = number("x");
      const left = anchor === "start"
        ? x
        : anchor === "end"
        ? x - width
        : x - width / 2;
      const y = number("y");
      return {
        text,
        left,
        right: left + width,
        top: y - 0.75 * size,
        bottom: y + 0.2 * size,
      };
    });
}

describe("the drawings of the guide", () => {
  it("are the very files that the code draws", async () => {
    for (const { name, svg } of made) {
      const stored = await Deno.readTextFile(`${guide}pictures/${name}`);
      expect({ name, same: stored === svg }).toEqual({ name, same: true });
    }
    const files = [...Deno.readDirSync(`${guide}pictures`)]
      .map(({ name }) => name).filter((name) => name.endsWith(".svg"));
    expect(files.sort()).toEqual(made.map(({ name }) => name).sort());
    expect((await typed(drawings, "too much")).code).toBe(2);
  });

  it("are shown by a page of the guide, each with words for those who cannot see", async () => {
    let pages = "";
    for (const { name } of Deno.readDirSync(guide)) {
      if (name.endsWith(".md")) pages += await Deno.readTextFile(guide + name);
    }
    for (const { name, svg } of made) {
      const shown = new RegExp(`!\\[[^\\]]{30,}\\]\\(pictures/${name}\\)`);
      expect({ name, shown: shown.test(pages) }).toEqual({ name, shown: true });
      expect(svg).toMatch(/<title>.{10,}<\/title>\n<desc>.{100,}<\/desc>/);
    }
  });

  it("run nothing, load nothing and stand on white of their own", () => {
    for (const { svg } of made) {
      expect(svg).not.toMatch(
        /<script|<style|<foreignObject|href|url\(|on\w+=/,
      );
      expect(svg).not.toMatch(/NaN|undefined|Infinity/);
      // The first shape covers all of it.
      expect(/<\/desc>\n<rect [^>]*>/.exec(svg)![0]).toContain(
        'fill="#ffffff"',
      );
    }
  });

  it("keep their texts inside and apart", () => {
    const found = made.flatMap(({ name, svg }) => {
      const [, width, height] = /viewBox="0 0 (\d+) (\d+)"/.exec(svg)!;
      const boxes = textBoxes(svg);
      const outside = boxes.filter(({ left, right, top, bottom }) =>
        left < 2 || right > Number(width) - 2 || top < 2 ||
        bottom > Number(height) - 2
      ).map(({ text }) => `${name}: '${text}' leaves the drawing`);
      const across = boxes.flatMap((a, i) =>
        boxes.slice(i + 1).filter((b) =>
          a.left < b.right && b.left < a.right && a.top < b.bottom &&
          b.top < a.bottom
        ).map((b) => `${name}: '${a.text}' lies on '${b.text}'`)
      );
      return [...outside, ...across];
    });
    expect(found).toEqual([]);
  });

  it("are carried by the pages of the guide, which need no network", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await writeGuidePages(guide, folder);
      let pages = "";
      for (const { name } of Deno.readDirSync(folder)) {
        pages += await Deno.readTextFile(`${folder}/${name}`);
      }
      expect(pages).not.toContain("picture not found");
      for (const { svg } of made) {
        const start = btoa(
          String.fromCharCode(...new TextEncoder().encode(svg.slice(0, 240))),
        ).slice(0, 300);
        expect(pages.includes(`data:image/svg+xml;base64,${start}`)).toBe(
          true,
        );
      }
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});

describe("what the drawings say", () => {
  it("is Ohm's law at the amplifier: 50 µA in 100 kΩ are 5 V, 1 % of it 50 mV", () => {
    expect(outputVoltage).toBeCloseTo(5, 9);
    expect(fringeVoltage).toBeCloseTo(0.05, 9);
    // 1/(2π × 100 kΩ × 4.7 pF), by hand.
    expect(feedbackCorner / 338.63e3).toBeCloseTo(1, 3);
    const { standingVoltage, headroom } = checkFrontEnd({
      monitorCurrent: amplifierParts.monitorCurrent,
      fringeRate: 2600,
    });
    expect(standingVoltage).toBeCloseTo(5, 9);
    expect(headroom).toBeGreaterThan(fringeVoltage);
  });

  it("is Ohm's law at the laser: what flows into its node flows out of it", () => {
    // Nodal analysis of the drawn circuit, small signals: battery and ground are
    // alike, the capacitor a short.
    const { seriesResistance, laserResistance, modulationResistance } =
      driveParts;
    const conductance = 1 / seriesResistance + 1 / laserResistance +
      1 / modulationResistance;
    const node = (1 / modulationResistance) / conductance;
    expect(currentPerVoltage).toBeCloseTo(node / laserResistance, 12);
    expect(laserCurrent * 1e3).toBeCloseTo(37.78, 2);
    // At the corner the capacitor has as many ohms as the rest of the loop.
    const loop = modulationResistance +
      1 / (1 / seriesResistance + 1 / laserResistance);
    expect(2 * Math.PI * modulationCorner * driveParts.modulationCapacitance)
      .toBeCloseTo(1 / loop, 12);
  });

  it("never puts more than 2 V or 2 mA on a lead that is tested", () => {
    expect(leadTest.supply).toBeLessThanOrEqual(2);
    expect(leadTest.supply / leadTest.resistor).toBeLessThanOrEqual(2e-3);
    // Readings that could be mistaken for each other would be no test.
    const sorted = Object.values(forwardVoltages).flat();
    expect(sorted).toEqual([...sorted].sort((a, b) => a - b));
  });

  it("has the signs of the physics: light drives current out of the anode", () => {
    for (const arrangement of arrangements) {
      // A current into the summing node is drawn off through the resistor: the
      // output falls by I R. Light drives it in where the anode is there.
      const anodeAtAmplifier = arrangement.photodiodeOnCan === "cathode";
      expect(outputSign(arrangement)).toBe(anodeAtAmplifier ? -1 : 1);
      // Forward current needs the anode above the cathode, the can being 0 V.
      expect(supplySign(arrangement)).toBe(
        arrangement.laserOnCan === "cathode" ? 1 : -1,
      );
    }
  });

  it("counts what was simulated: the stroke and the ramp hold their truth", () => {
    const stroke = motionFromScreen({
      fringes: 6,
      wavelength: drawnStroke.wavelength,
    });
    expect(Math.abs(stroke.amplitude.value - drawnStroke.amplitude))
      .toBeLessThan(stroke.amplitude.expandedUncertainty);
    const { low, high, frequency } = drawnRamp;
    const { distance } = measureDistance(
      stepsFromScreen({
        drive: { shape: "triangle", low, high, frequency },
        up: { edges: 7, first: 0.036, last: 0.0448 },
        currentStandardUncertainty: 6e-5,
      }),
      {
        tuning: {
          tuning: drawnRamp.tuning,
          wavelength: drawnRamp.wavelength,
        },
      },
    );
    expect(Math.abs(distance.value - drawnRamp.distance))
      .toBeLessThan(distance.expandedUncertainty);
    const shown = made.find(({ name }) => name === "counted_ramp.svg")!.svg;
    expect(shown).toContain("36.0 mA");
    expect(shown).toContain("44.8 mA");
    expect(shown).toContain("7 edges are");
  });
});

describe("the worksheet", () => {
  it("is written by its task: screens to draw on, tables, and nothing to load", async () => {
    const path = await Deno.makeTempFile({ suffix: ".html" });
    const { code, said } = await typed(worksheet, "--output", path);
    expect([code, said]).toEqual([0, expect.stringContaining("three pages")]);
    const page = await Deno.readTextFile(path);
    await Deno.remove(path);
    expect(page).toBe(worksheetPage());
    expect(page.match(/<svg/g)!.length).toBe(2);
    expect(page.match(/<table>/g)!.length).toBe(4);
    expect(page).toContain("laser safety officer");
    expect(page.replaceAll("http://www.w3.org/2000/svg", ""))
      .not.toMatch(/https?:|<script|<link/);
  });
});
