import highlighter from "highlight.js/lib/core";
import bash from "highlight.js/lib/languages/bash";
import json from "highlight.js/lib/languages/json";
import python from "highlight.js/lib/languages/python";
import typescript from "highlight.js/lib/languages/typescript";
import { escapeHtml } from "./escape.ts";

highlighter.registerLanguage("bash", bash);
highlighter.registerLanguage("json", json);
highlighter.registerLanguage("python", python);
highlighter.registerLanguage("typescript", typescript);
highlighter.registerAliases(["ts", "js", "javascript", "tsx"], {
  languageName: "typescript",
});
highlighter.registerAliases(["sh", "shell", "console"], {
  languageName: "bash",
});

/** Code as HTML with its parts marked; as it is, in an unknown language. */
export function highlight(code: string, language: string): string {
  return highlighter.getLanguage(language)
    ? highlighter.highlight(code, { language, ignoreIllegals: true }).value
    : escapeHtml(code);
}
