// Changes arrive as server-sent events; a part of the page that cares says so with data-redraw="kind" or "kind:key".

import { TAB } from "./tab";

interface Told {
  key?: string;
  tab?: string;
}

const KINDS = ["bench", "case", "draft", "job", "everything"];

export function listen(): void {
  if (!document.querySelector("[data-redraw]")) return;
  const source = new EventSource("/live");
  for (const kind of KINDS) {
    source.addEventListener(kind, (event) => redraw(kind, JSON.parse((event as MessageEvent<string>).data) as Told));
  }
  let lost = false;
  source.addEventListener("error", () => {
    lost = true;
    document.documentElement.dataset["line"] = "lost";
  });
  source.addEventListener("open", () => {
    delete document.documentElement.dataset["line"];
    if (lost) redraw("everything", {}); // whatever was said meanwhile was not heard
    lost = false;
  });
  window.addEventListener("pagehide", () => source.close());
}

function redraw(kind: string, told: Told): void {
  if (told.tab === TAB) return;
  for (const part of document.querySelectorAll<HTMLElement>("[data-redraw]")) {
    const wanted = (part.dataset["redraw"] ?? "").split(" ");
    const meant = kind === "everything" || wanted.includes(kind) || wanted.includes(`${kind}:${told.key ?? ""}`);
    if (meant) part.dispatchEvent(new CustomEvent("redraw", { detail: told }));
  }
}
