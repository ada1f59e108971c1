// Scans a label by camera where the browser can read codes; elsewhere there is no button,
// and the label is typed.
"use strict";

const wanted = ["data_matrix", "qr_code"];

export async function begin(button, end, place, video, found) {
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return;
  const formats = (await BarcodeDetector.getSupportedFormats().catch(() => [])).filter((f) => wanted.includes(f));
  if (formats.length === 0) return;
  const detector = new BarcodeDetector({formats});
  let stream;
  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = undefined;
    place.hidden = true;
  };
  const look = async () => {
    if (!stream) return;
    const codes = await detector.detect(video).catch(() => []);
    if (codes.length > 0 && stream) {
      stop();
      found(codes[0].rawValue);
    } else setTimeout(look, 150);
  };
  button.hidden = false;
  button.addEventListener("click", async () => {
    if (stream) return stop();
    try {
      stream = await navigator.mediaDevices.getUserMedia({video: {facingMode: "environment"}});
      video.srcObject = stream;
      place.hidden = false;
      await video.play();
      look();
    } catch (refused) { // no camera, or no right to it: the label is typed
      stop();
      button.hidden = true;
    }
  });
  end.addEventListener("click", stop);
}
