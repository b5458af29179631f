import type { Handler } from "../handler.ts";
import { PROTOCOL_VERSION } from "../message.ts";

/** Version of the kernel, as clients show it. */
const IMPLEMENTATION_VERSION = "0.2.0";

/** Tells who the kernel is; the first thing that every client asks. */
export const kernelInfo: Handler = (_request, { interpreter }) => ({
  content: {
    status: "ok",
    protocol_version: PROTOCOL_VERSION,
    implementation: "fringebook",
    implementation_version: IMPLEMENTATION_VERSION,
    language_info: interpreter.languageInfo,
    banner: interpreter.banner,
    help_links: [],
    supported_features: [],
    debugger: false,
  },
});

/** Tells the ports; deprecated but asked for by old clients. */
export const connect: Handler = (_request, { ports }) => ({
  content: { status: "ok", ...ports },
});
