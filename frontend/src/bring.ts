// A scan is dropped on the page or chosen: its bytes go to the server, which tells what it holds.
import htmx from "htmx.org";
import { written } from "./numbers";
import { say } from "./say";
import { ownHeaders } from "./tab";

export function startBringing(): void {
  const zone = document.getElementById("bring");
  const file = document.getElementById("bring-file") as HTMLInputElement | null;
  if (!zone || !file) return;
  file.addEventListener("change", () => {
    void bringAll(zone, [...(file.files ?? [])]);
    file.value = "";
  });
  let over = 0;
  document.addEventListener("dragenter", (event) => {
    event.preventDefault();
    over += 1;
    zone.classList.add("over");
  });
  document.addEventListener("dragleave", () => {
    over = Math.max(0, over - 1);
    if (!over) zone.classList.remove("over");
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    over = 0;
    zone.classList.remove("over");
    void bringAll(zone, [...(event.dataTransfer?.files ?? [])]);
  });
}

async function bringAll(zone: HTMLElement, files: File[]): Promise<void> {
  for (const file of files) await bring(zone, file);
}

function bring(zone: HTMLElement, file: File): Promise<void> {
  const list = document.getElementById("brought") as HTMLElement;
  const row = document.createElement("section");
  row.className = "brought";
  list.prepend(row);
  const most = Number(zone.dataset["maxBytes"]);
  if (!file.size) return refuse(row, say("file_empty", { file: file.name }), say("export_again"));
  if (file.size > most) {
    const said = say("file_large", { file: file.name, size: mega(file.size), most: mega(most) });
    return refuse(row, said, say("make_smaller"));
  }
  const base = `/cases/${encodeURIComponent(zone.dataset["code"] ?? "")}/scans`;
  return new Promise((done) => {
    const sent = new XMLHttpRequest();
    const bar = Object.assign(document.createElement("progress"), { max: 1, value: 0 });
    bar.setAttribute("aria-label", say("sent"));
    const said = document.createElement("span");
    const stop = Object.assign(document.createElement("button"), { type: "button", textContent: say("stop") });
    stop.addEventListener("click", () => sent.abort());
    row.append(Object.assign(document.createElement("strong"), { textContent: file.name }), " ", bar, " ", said, " ", stop);
    sent.upload.addEventListener("progress", (event) => {
      bar.value = event.loaded / Math.max(event.total, 1);
      said.textContent = say("so_far", { part: mega(event.loaded), whole: mega(event.total) });
    });
    sent.addEventListener("load", () => {
      if (sent.status === 201) {
        const { id } = JSON.parse(sent.responseText) as { id: string };
        void htmx.ajax("get", `${base}/${id}`, { target: row, swap: "outerHTML" }).then(done);
      } else void refuse(row, ...read(sent)).then(done);
    });
    sent.addEventListener("error", () => void refuse(row, say("not_arrived", { file: file.name }), say("bring_again")).then(done));
    sent.addEventListener("abort", () => {
      row.textContent = say("stopped", { file: file.name });
      done();
    });
    sent.open("POST", `${base}?name=${encodeURIComponent(file.name)}`);
    for (const [name, value] of Object.entries(ownHeaders())) sent.setRequestHeader(name, value);
    sent.setRequestHeader("Content-Type", "application/octet-stream");
    sent.send(file);
  });
}

function read(sent: XMLHttpRequest): [string, string] {
  try {
    const { error } = JSON.parse(sent.responseText) as { error: { message: string; hint: string } };
    return [error.message, error.hint];
  } catch {
    return [sent.responseText || say("refused"), ""];
  }
}

async function refuse(row: HTMLElement, said: string, hint: string): Promise<void> {
  const strip = document.createElement("div");
  strip.className = "strip";
  strip.setAttribute("role", "alert");
  const what = document.createElement("p");
  what.append(Object.assign(document.createElement("strong"), { textContent: said.charAt(0).toUpperCase() + said.slice(1) }));
  const todo = Object.assign(document.createElement("p"), { className: "do", textContent: hint ? `→ ${hint}` : "" });
  const none = Object.assign(document.createElement("p"), { className: "quiet", textContent: say("none_kept") });
  const away = Object.assign(document.createElement("button"), { type: "button", textContent: say("put_away") });
  away.addEventListener("click", () => row.remove());
  strip.append(what, todo, none, away);
  row.replaceChildren(strip);
}

function mega(bytes: number): string {
  return written(bytes / 1e6, bytes < 1e7 ? 1 : 0);
}
