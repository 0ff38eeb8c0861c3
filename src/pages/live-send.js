// Files that are dropped or chosen, sent to the server as they are.

/** The most bytes of a file, as the server has it. */
export const MOST_BYTES = 8 * 1024 * 1024;

/** Sends a file; what the server says of it, or `{ wrong }` with why it is not taken. */
export async function sendFile(file) {
  if (file.size > MOST_BYTES) {
    const size = (file.size / 1024 / 1024).toFixed(0);
    return {
      wrong: `"${file.name}" has ${size} MB, and 8 MB is the most that is taken: save the route and the places alone, without photos or a day's other tracks.`,
    };
  }
  let answer;
  try {
    answer = await fetch(`read?name=${encodeURIComponent(file.name)}`, {
      method: "POST",
      headers: { "content-type": "application/octet-stream" },
      body: file,
    });
  } catch {
    return { wrong: `"${file.name}" cannot be sent: is it still there, and is Perchline running?` };
  }
  const text = await answer.text().catch(() => "");
  let said = null;
  try {
    said = JSON.parse(text);
  } catch {
    // Said as text.
  }
  if (answer.ok && said) return said;
  return { wrong: said?.text ?? (text.trim() || `The server answered ${answer.status}.`) };
}

/** Calls `took` with a file that is dropped anywhere on the page. */
export function takeDrops(took) {
  const holdsFile = (event) => Array.from(event.dataTransfer?.types ?? []).includes("Files");
  document.addEventListener("dragover", (event) => {
    if (!holdsFile(event)) return;
    event.preventDefault();
    document.body.classList.add("dropping");
  });
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) document.body.classList.remove("dropping");
  });
  document.addEventListener("drop", (event) => {
    if (!holdsFile(event)) return;
    event.preventDefault();
    document.body.classList.remove("dropping");
    const [file] = event.dataTransfer.files;
    if (file) took(file, event.dataTransfer.files.length);
  });
}
