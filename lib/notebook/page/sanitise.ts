import sanitizeHtml from "sanitize-html";

const tags = [
  ...sanitizeHtml.defaults.allowedTags,
  "details",
  "summary",
  "img",
  "del",
  "ins",
  "input",
  ...["svg", "g", "path", "line", "rect", "circle", "ellipse", "polyline"],
  ...["polygon", "text", "tspan", "title", "desc", "defs", "marker"],
];

const drawing = [
  ...["viewBox", "width", "height", "fill", "stroke", "stroke-width", "d"],
  ...["x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "rx", "ry", "points"],
  ...["transform", "opacity", "font-size", "text-anchor", "stroke-dasharray"],
  ...["stroke-linecap", "stroke-linejoin", "dominant-baseline", "font-family"],
  ...["preserveAspectRatio", "marker-end", "marker-start", "font-weight"],
];

/**
 * Takes out of HTML all that could run, load from outside or cover the page.
 *
 * @param html Any HTML.
 * @param image Finds the data of a picture that is not in the HTML itself.
 * @returns HTML that shows the same without scripts and without a network.
 */
export function sanitise(
  html: string,
  image: (address: string) => string | null = () => null,
): string {
  return sanitizeHtml(html, {
    allowedTags: tags,
    allowedAttributes: {
      "*": [
        ...["class", "id", "title", "lang", "dir", "role", "style", "align"],
        ...["aria-label", "aria-hidden", "aria-describedby", "scope"],
        ...["colspan", "rowspan", "open", "start", "reversed", "value"],
        ...drawing,
      ],
      a: ["href", "name", "id"],
      img: ["src", "alt", "width", "height", "style"],
      input: ["type", "checked", "disabled"],
    },
    allowedSchemes: ["http", "https", "mailto"],
    allowedSchemesByTag: { img: ["data"] },
    allowProtocolRelative: false,
    allowedStyles: { "*": harmlessStyles },
    parser: { lowerCaseAttributeNames: false },
    exclusiveFilter: (
      { tag, attribs }: { tag: string; attribs: Record<string, string> },
    ) => tag === "img" && !/^data:image\//.test(attribs["src"] ?? ""),
    transformTags: {
      "*": (tagName: string, attribs: Record<string, string>) => ({
        tagName,
        attribs: "class" in attribs
          ? { ...attribs, class: withoutOwn(attribs["class"] ?? "") }
          : attribs,
      }),
      img: (_: string, attributes: Record<string, string>) => {
        const { src = "" } = attributes;
        return {
          tagName: "img",
          attribs: { ...attributes, src: image(src) ?? src },
        };
      },
      input: (_: string, attributes: Record<string, string>) => ({
        tagName: "input",
        attribs: {
          type: "checkbox",
          disabled: "",
          ...("checked" in attributes ? { checked: "" } : {}),
        },
      }),
    },
  });
}

/** Classes by which the page places its own parts. */
const ownClasses =
  /^(?:skip|sheet|cell|code|prose|number|outputs|contents|has-contents|fringebook-figure|fringebook-active)$/;

function withoutOwn(names: string): string {
  return names.split(/\s+/).filter((name) => !ownClasses.test(name)).join(" ");
}

/** Values without addresses, and properties that stay in their place. */
const value = /^(?!.*(?:url|expression|image-set)\s*\()[^;{}<>\\]{1,200}$/i;
const inPlace = /^(?!.*-\s*[.\d])[^;{}<>\\()]{1,100}$/;
const harmlessStyles: Record<string, RegExp[]> = Object.fromEntries([
  ...["color", "background", "background-color", "opacity"],
  ...["font", "font-family", "font-size", "font-style", "font-weight"],
  ...["font-variant-numeric", "line-height", "letter-spacing", "white-space"],
  ...["text-align", "text-decoration", "text-transform", "vertical-align"],
  ...["border", "border-left", "border-right", "border-top", "border-bottom"],
  ...["border-collapse", "border-spacing", "border-radius", "border-color"],
  ...["margin", "margin-left", "margin-right", "margin-top", "margin-bottom"],
  ...["padding", "padding-left", "padding-right", "padding-top"],
  ...["padding-bottom", "width", "height", "max-width", "min-width"],
  ...["max-height", "min-height", "display", "gap", "overflow", "overflow-x"],
  ...["flex", "flex-wrap", "align-items", "justify-content"],
  ...["grid-template-columns", "list-style", "table-layout", "float"],
].map((property) => [
  property,
  [property.startsWith("margin") ? inPlace : value],
]));
