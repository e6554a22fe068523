// Small helps only; every page works without this file.
"use strict";
(() => {
  // Offer the steps of the chosen procedure while typing.
  const procedure = document.querySelector("[data-procedure]");
  const list = document.getElementById("step-names");
  if (procedure && list) {
    procedure.addEventListener("change", async () => {
      list.replaceChildren();
      if (!procedure.value) return;
      const answer = await fetch("/api/procedures/" + encodeURIComponent(procedure.value));
      if (!answer.ok) return;
      for (const step of (await answer.json()).steps) {
        const option = document.createElement("option");
        option.value = step.name;
        list.append(option);
      }
    });
  }
  // Let a file be dropped on the form.
  for (const zone of document.querySelectorAll(".dropzone")) {
    const input = zone.querySelector("input[type=file]");
    const stop = (event) => { event.preventDefault(); };
    zone.addEventListener("dragover", (event) => { stop(event); zone.classList.add("over"); });
    zone.addEventListener("dragleave", () => zone.classList.remove("over"));
    zone.addEventListener("drop", (event) => {
      stop(event);
      zone.classList.remove("over");
      if (event.dataTransfer.files.length) input.files = event.dataTransfer.files;
    });
  }
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
})();
