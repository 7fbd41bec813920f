// What the browser says by itself: texts come with the page, scripts name keys alone.

const SAID = JSON.parse(document.querySelector<HTMLMetaElement>("meta[name=say]")?.content ?? "{}") as Record<string, string>;

export function say(key: string, parts: Record<string, string> = {}): string {
  return (SAID[key] ?? key).replace(/\{(\w+)\}/g, (_, name: string) => parts[name] ?? "");
}
