// Sections of a case that are folded: what somebody opened or closed stays so when the part is drawn anew, and a link
// to something inside a folded section opens it.

const touched = new Map<string, boolean>();

export function keepFolds(): void {
  document.addEventListener(
    "click",
    (event) => {
      const fold = (event.target as Element | null)?.closest("summary")?.parentElement as HTMLDetailsElement | null | undefined;
      if (fold?.matches("details.fold")) touched.set(fold.id, !fold.open);
    },
    true,
  );
  document.addEventListener("click", (event) => {
    const link = (event.target as Element | null)?.closest<HTMLAnchorElement>('a[href*="#"]');
    const at = link?.getAttribute("href") ?? link?.getAttributeNS("http://www.w3.org/1999/xlink", "href") ?? "";
    if (at.startsWith("#")) reveal(at.slice(1));
  });
  document.addEventListener("htmx:afterSwap", restore);
  restore();
}

function restore(): void {
  for (const [id, isOpen] of touched) {
    const fold = document.getElementById(id) as HTMLDetailsElement | null;
    if (fold) fold.open = isOpen;
  }
  reveal(location.hash.slice(1), false);
}

function reveal(id: string, isTouch = true): void {
  const fold = id ? document.getElementById(decodeURIComponent(id))?.closest<HTMLDetailsElement>("details.fold") : null;
  if (!fold || fold.open || (!isTouch && touched.has(fold.id))) return;
  fold.open = true;
  touched.set(fold.id, true);
}
