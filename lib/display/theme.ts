import { pictureFont } from "./picture/mod.ts";

/**
 * Line colours, in order of use. They start from the colour-blind safe set of
 * Okabe and Ito (2008, from memory), darkened until each has a contrast of at least 3:1 on
 * white, as WCAG 2.1 asks of lines in a figure (criterion 1.4.11).
 */
export const colours = {
  blue: "#0072b2",
  vermilion: "#d55e00",
  green: "#009e73",
  purple: "#8c2d78",
  ochre: "#7a4f00",
  black: "#1a1a1a",
  grey: "#666666",
} as const;

/** Dark to light in even steps of lightness, for spectrograms. */
export const colourScale: readonly (readonly [number, string])[] = [
  [0, "#f7fbff"],
  [0.2, "#c9dff0"],
  [0.4, "#86b8d8"],
  [0.6, "#3f86ba"],
  [0.8, "#124f8b"],
  [1, "#05224a"],
];

const fontFamily =
  `"${pictureFont}", "DejaVu Sans", Verdana, Arial, sans-serif`;

const axis = {
  showline: true,
  linecolor: "#555555",
  linewidth: 1,
  ticks: "outside",
  ticklen: 5,
  tickcolor: "#555555",
  gridcolor: "#e4e4e4",
  zeroline: false,
  automargin: true,
  exponentformat: "power",
  title: { standoff: 10, font: { size: 13 } },
};

/**
 * The one theme of all figures, as a plotly.js template: dark text on white
 * paper also in dark pages, so that print, screen and static picture agree.
 */
export const theme = {
  layout: {
    font: { family: fontFamily, size: 12, color: "#1a1a1a" },
    paper_bgcolor: "#ffffff",
    plot_bgcolor: "#ffffff",
    colorway: [
      colours.blue,
      colours.vermilion,
      colours.green,
      colours.purple,
      colours.ochre,
      colours.grey,
    ],
    title: {
      x: 0.012,
      xanchor: "left",
      y: 1,
      yref: "container",
      yanchor: "top",
      pad: { t: 12, l: 4 },
      font: { size: 15 },
    },
    margin: { l: 64, r: 20, t: 66, b: 52 },
    xaxis: axis,
    yaxis: axis,
    legend: {
      orientation: "h",
      x: 0,
      xanchor: "left",
      y: 1.01,
      yanchor: "bottom",
      yref: "paper",
      font: { size: 12 },
    },
    hoverlabel: { bgcolor: "#ffffff", font: { color: "#1a1a1a" } },
    hovermode: "closest",
    bargap: 0.3,
  },
};

/** Width of a figure where the page does not say, in CSS pixels. */
export const defaultWidth = 760;

/** Height of a figure with one panel, in CSS pixels. */
export const defaultHeight = 400;
