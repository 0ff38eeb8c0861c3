import "leaflet/dist/leaflet.css";
import "./live.css";
