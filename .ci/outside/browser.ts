/** A browser's driver and a checker of accessibility, for these suites alone. */
export {
  type Browser,
  type BrowserContext,
  chromium,
  type Page,
} from "npm:playwright-core@1.57.0";
export { default as axe } from "npm:axe-core@4.11.0";
