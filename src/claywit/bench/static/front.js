import { wireForms, wireUploads } from "./wire.js";

wireForms();
wireUploads();
