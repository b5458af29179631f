/** What is drawn for a session at most; what is larger it draws itself. */
export const drawingLimits = {
  /** Bytes of a figure as JSON text. */
  figure: 2e7,
  /** Pixels of a picture. */
  pixels: 2e7,
  /** Characters of the SVG text. */
  svg: 2e7,
  /** Time of one picture, in ms. */
  time: 30_000,
  /** Pictures of one session that fail, before it draws itself. */
  failures: 3,
  /** Pictures that one session may have asked for and not taken yet. */
  waiting: 3,
} as const;
