/** A second reader of Markdown, for tests alone. */
export { marked } from "npm:marked@16.4.1";
