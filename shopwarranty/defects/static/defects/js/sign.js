// Signing with a finger; the typed name does without it. What is drawn goes along as a picture with the form.
(() => {
  const box = document.getElementById("sign"), form = document.getElementById("end");
  if (!box || !form || !form.elements.signature) return;
  const canvas = box.querySelector("canvas"), pen = canvas.getContext("2d");
  box.hidden = false;
  const paper = () => { pen.fillStyle = "#fff"; pen.fillRect(0, 0, canvas.width, canvas.height); form.elements.signature.value = ""; };
  pen.lineWidth = 4;
  pen.lineCap = pen.lineJoin = "round";
  paper();
  const at = (event) => {
    const room = canvas.getBoundingClientRect();
    return [(event.clientX - room.left) * canvas.width / room.width, (event.clientY - room.top) * canvas.height / room.height];
  };
  let down = false;
  canvas.addEventListener("pointerdown", (event) => { down = true; canvas.setPointerCapture(event.pointerId); pen.beginPath(); pen.moveTo(...at(event)); });
  canvas.addEventListener("pointermove", (event) => { if (!down) return; pen.lineTo(...at(event)); pen.stroke(); });
  canvas.addEventListener("pointerup", () => { if (!down) return; down = false; form.elements.signature.value = canvas.toDataURL("image/png"); });
  box.querySelector("button").addEventListener("click", paper);
})();
