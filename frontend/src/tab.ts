// What every request of this tab carries: its name, so that it does not redraw what it was answered already, and the
// token that says that it was sent by a page of the person who is signed in.

export const TAB: string = Array.from(crypto.getRandomValues(new Uint8Array(8)), (byte) => byte.toString(16)).join("");

export function ownHeaders(): Record<string, string> {
  const token = document.querySelector<HTMLMetaElement>("meta[name=csrf]")?.content;
  return { "X-Tab": TAB, ...(token ? { "X-CSRF-Token": token } : {}) };
}

export function nameRequests(): void {
  document.addEventListener("htmx:configRequest", (event) => {
    const { headers } = (event as CustomEvent).detail as { headers: Record<string, string> };
    Object.assign(headers, ownHeaders());
  });
}
