// What somebody filled into a form and has not kept stays with the device: through a reload, and a restart of the server.

type Field = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;
type Kept = { of: string; values: (string | boolean)[] };

export function keepDrafts(): void {
  document.addEventListener("input", (event) => {
    const form = (event.target as Element | null)?.closest<HTMLFormElement>("form[data-draft]");
    if (!form) return;
    const kept: Kept = { of: form.dataset["draftOf"] ?? "", values: fieldsOf(form).map(valueOf) };
    localStorage.setItem(slotOf(form), JSON.stringify(kept));
    tell(true);
  });
  document.addEventListener("click", (event) => {
    const form = document.querySelector<HTMLFormElement>("form[data-draft]");
    if (form && (event.target as Element | null)?.closest("#draft-drop")) {
      localStorage.removeItem(slotOf(form));
      location.reload();
    }
  });
  document.addEventListener("htmx:beforeSwap", (event) => {
    const detail = (event as CustomEvent).detail as { xhr: XMLHttpRequest; requestConfig: { elt: Element } };
    const form = detail.requestConfig.elt;
    if (form.matches("form[data-draft]") && detail.xhr.status < 400) localStorage.removeItem(slotOf(form as HTMLFormElement));
  });
  document.addEventListener("htmx:afterSwap", restore);
  restore();
}

// A draft belongs to what it was begun from: once that is kept, or somebody else changed it, the draft is let go.
function restore(): void {
  const form = document.querySelector<HTMLFormElement>("form[data-draft]");
  if (!form) return;
  const kept = JSON.parse(localStorage.getItem(slotOf(form)) ?? "null") as Kept | null;
  if (!kept) return;
  const fields = fieldsOf(form);
  if (kept.of !== (form.dataset["draftOf"] ?? "") || kept.values.length !== fields.length) {
    localStorage.removeItem(slotOf(form));
    return;
  }
  fields.forEach((field, k) => {
    const value = kept.values[k];
    if (typeof value === "boolean") (field as HTMLInputElement).checked = value;
    else field.value = value ?? "";
  });
  tell(true);
}

function slotOf(form: HTMLFormElement): string {
  return `seatwright-draft ${form.dataset["draft"]}`;
}

function fieldsOf(form: HTMLFormElement): Field[] {
  return [...form.querySelectorAll<Field>("input:not([type=hidden]), select, textarea")];
}

function valueOf(field: Field): string | boolean {
  return field instanceof HTMLInputElement && field.type === "checkbox" ? field.checked : field.value;
}

function tell(isThere: boolean): void {
  const told = document.getElementById("draft-told");
  if (told) told.hidden = !isThere;
}
