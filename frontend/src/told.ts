// What the server refuses is shown where the eye is, and stays until it is read.

import { say } from "./say";

export function showTold(): void {
  document.addEventListener("htmx:beforeSwap", (event) => {
    const detail = (event as CustomEvent).detail as { xhr: XMLHttpRequest; shouldSwap: boolean; target: Element; isError: boolean; swapOverride?: string };
    const told = document.getElementById("told");
    if (detail.xhr.status >= 400 && detail.xhr.getResponseHeader("HX-Retarget")) {
      detail.shouldSwap = true; // it says itself what it shows anew: somebody else was faster
      detail.isError = false;
    } else if (detail.xhr.status >= 400 && told) {
      detail.shouldSwap = true;
      detail.isError = false;
      detail.target = told;
      detail.swapOverride = "innerHTML"; // the place to tell stays, for what is told next
    }
  });
  document.addEventListener("htmx:sendError", () => {
    const told = document.getElementById("told");
    if (told) told.textContent = say("stays_here");
  });
  // A touch that comes before a part just drawn listens is not counted; the browser must not leave the page for it.
  document.addEventListener("submit", (event) => {
    if ((event.target as Element).matches("[hx-post]")) event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") document.getElementById("told")?.replaceChildren();
  });
}
