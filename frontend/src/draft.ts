// What somebody filled into a form and has not kept stays with the device: through a reload, and a restart of the server.

const KEPT_UNDER = "seatwright-draft";

type Field = HTMLInputElement | HTMLSelectElement;

export function keepDrafts(): void {
  document.addEventListener("input", (event) => {
    const form = (event.target as Element | null)?.closest<HTMLFormElement>("form[data-draft]");
    if (!form) return;
    localStorage.setItem(KEPT_UNDER, JSON.stringify({ of: form.dataset["draft"], values: fieldsOf(form).map(valueOf) }));
    tell(true);
  });
  document.addEventListener("click", (event) => {
    if ((event.target as Element | null)?.closest("#draft-drop")) {
      localStorage.removeItem(KEPT_UNDER);
      location.reload();
    }
  });
  document.addEventListener("htmx:afterSwap", restore);
  restore();
}

// A draft belongs to what it was begun from: once that is kept, or somebody else changed it, the draft is let go.
function restore(): void {
  const form = document.querySelector<HTMLFormElement>("form[data-draft]");
  const kept = JSON.parse(localStorage.getItem(KEPT_UNDER) ?? "null") as { of: string; values: (string | boolean)[] } | null;
  if (!form || !kept) return;
  const fields = fieldsOf(form);
  if (kept.of !== form.dataset["draft"] || kept.values.length !== fields.length) {
    localStorage.removeItem(KEPT_UNDER);
    return;
  }
  fields.forEach((field, k) => {
    const value = kept.values[k];
    if (typeof value === "boolean") (field as HTMLInputElement).checked = value;
    else field.value = value ?? "";
  });
  tell(true);
}

function fieldsOf(form: HTMLFormElement): Field[] {
  return [...form.querySelectorAll<Field>("input:not([type=hidden]), select")];
}

function valueOf(field: Field): string | boolean {
  return field instanceof HTMLInputElement && field.type === "checkbox" ? field.checked : field.value;
}

function tell(isThere: boolean): void {
  const told = document.getElementById("draft-told");
  if (told) told.hidden = !isThere;
}
