// A drawing on its way out: link, SVG, PNG, JSON.

import { words } from "./words.js";

const TYPES = { svg: "image/svg+xml", png: "image/png", json: "application/json" };

// The program draws SVG and PNG: one look, whoever draws.
async function drawn(json, kind) {
  if (kind === "json") return new Blob([JSON.stringify(json, null, 2)], { type: TYPES.json });
  const answer = await fetch(`/api/diagram.${kind}${kind === "png" ? "?width=1600" : ""}`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(json),
  });
  if (!answer.ok) throw new Error((await answer.json()).detail);
  return answer.blob();
}

// Hands a file to the user; what went wrong, in words, or nothing.
export async function save(json, kind) {
  try {
    const address = URL.createObjectURL(await drawn(json, kind));
    const link = document.createElement("a");
    link.href = address;
    link.download = `layout.${kind}`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(address), 10000);
    return null;
  } catch (error) {
    return words.failed(error.message);
  }
}

export async function copyLink(address) {
  try {
    await navigator.clipboard.writeText(address);
    return words.copied;
  } catch {
    return words.copyIt;
  }
}
