/**
 * What a press of the button does: the classic Notebook knows its kernel; other
 * pages of a Jupyter server interrupt the kernel that is busy, by the server's
 * documented interface. Where neither is at hand it says which button stops.
 */
const stop = String.raw`(async (button) => {
  const said = (text) => { button.nextElementSibling.textContent = text; };
  said("stopping");
  try {
    const known = globalThis.Jupyter?.notebook?.kernel;
    if (known) { known.interrupt(); return; }
    const config = JSON.parse(document.getElementById("jupyter-config-data").textContent);
    const base = new URL(config.baseUrl, location.href);
    const token = config.token ? { Authorization: "token " + config.token } : {};
    const xsrf = /(?:^|; )_xsrf=([^;]*)/.exec(document.cookie)?.[1];
    const headers = xsrf ? { ...token, "X-XSRFToken": xsrf } : token;
    const all = await (await fetch(new URL("api/sessions", base), { headers })).json();
    const here = decodeURIComponent(location.pathname);
    const busy = all.filter(({ kernel }) => kernel.execution_state === "busy");
    const mine = busy.length > 1 ? busy.filter(({ path }) => here.endsWith(path)) : busy;
    if (mine.length !== 1) throw new Error("not found");
    const answer = await fetch(
      new URL("api/kernels/" + mine[0].kernel.id + "/interrupt", base),
      { method: "POST", headers });
    if (!answer.ok) throw new Error(answer.statusText);
  } catch { said("press the stop button (■) of the notebook"); }
})(this)`;

/** The button that stops a live view, as HTML for a notebook. */
export function stopButtonHtml(): string {
  const code = stop.replaceAll("&", "&amp;").replaceAll('"', "&quot;")
    .replaceAll("<", "&lt;").replaceAll("\n", " ");
  return `<p><button type="button" class="fringebook-stop" style="font-size: 1.1em; padding: 0.3em 1.2em" onclick="${code}">Stop watching</button> <span>or the stop button (■) of the notebook</span></p>`;
}
