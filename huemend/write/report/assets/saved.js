// The page itself tells no time, so that the same input gives the same bytes: when it was saved, its file knows. A
// server that does not know has the browser answer with the present.
const saved = new Date(document.lastModified);
if (location.protocol === "file:" || Date.now() - saved > 2000) {
  const shape = { dateStyle: "medium", timeStyle: "short", hourCycle: "h23" };
  for (const place of document.querySelectorAll(".saved")) {
    place.textContent = `, saved ${saved.toLocaleString("en-GB", shape)}`;
  }
}
