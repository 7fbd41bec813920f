// A name for this tab, so that it does not redraw what it was answered already.

export const TAB: string = Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16)).join("");

export function nameRequests(): void {
  document.addEventListener("htmx:configRequest", (event) => {
    const { headers } = (event as CustomEvent).detail as { headers: Record<string, string> };
    headers["X-Tab"] = TAB;
  });
}
