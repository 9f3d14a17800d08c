"use strict";
(() => {
  const field = document.getElementById("find"), none = document.getElementById("none");
  field.parentElement.hidden = false;
  field.addEventListener("input", () => {
    const words = field.value.toLowerCase().split(/\s+/);
    let found = 0;
    for (const month of document.querySelectorAll("section.month")) {
      let here = 0;
      for (const item of month.querySelectorAll("li")) {
        item.hidden = !words.every((word) => item.textContent.toLowerCase().includes(word));
        here += !item.hidden;
      }
      month.hidden = !here;
      found += here;
    }
    none.hidden = found > 0;
  });
})();
