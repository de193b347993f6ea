// A text box marked `data-people` suggests people while somebody types. What is typed is sent with
// the form as it is, so the box works without this file too.
const WAIT = 200;  // milliseconds after the last key
for (const box of document.querySelectorAll("input[data-people]")) {
  let timer = 0, asked = "";
  box.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(suggest, WAIT);
  });
  async function suggest() {
    const typed = box.value.trim();
    const isListed = [...box.list.options].some((one) => one.value === typed);
    if (typed.length < 2 || typed === asked || isListed) return;
    asked = typed;
    try {
      const answer = await fetch(`${box.dataset.people}&q=${encodeURIComponent(typed)}`);
      if (!answer.ok || answer.redirected) return;
      const { found } = await answer.json();
      if (asked !== typed) return;
      const option = (label) => Object.assign(document.createElement("option"), { value: label });
      box.list.replaceChildren(...found.map(option));
    } catch {
      asked = "";  // without a connection there are no suggestions
    }
  }
}
