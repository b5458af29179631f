/**
 * The part of a page's document that is used here. The standard's own types
 * would ask every user of this library to load those of a browser.
 */

/** A node of a document. */
export interface PageNode {
  /** 1 for elements, 3 for text. */
  readonly nodeType: number;
  /** The text of a text node. */
  readonly nodeValue: string | null;
}

/** An element of a document. */
export interface PageElement extends PageNode {
  /** Its name. */
  readonly tagName: string;
  /** The element around it. */
  readonly parentElement: PageElement | null;
  /** The elements in it. */
  readonly children: ArrayLike<PageElement>;
  /** The nodes in it. */
  readonly childNodes: ArrayLike<PageNode>;
  /** Its classes. */
  readonly classList: { contains(name: string): boolean };
  /** The value of an attribute; `null` where it has none. */
  getAttribute(name: string): string | null;
  /** Takes it out of the document. */
  remove(): void;
}

/** An element that is drawn into. */
export interface PageCanvas extends PageElement {
  /** Width, in pixels. */
  readonly width: number;
  /** Height, in pixels. */
  readonly height: number;
}

/** A document. */
export interface PageDocument {
  /** Makes an element. */
  createElement(name: string): PageElement;
  /** What is shown. */
  readonly body: { append(element: PageElement): void };
}
