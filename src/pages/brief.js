import "leaflet/dist/leaflet.css";
import "./brief.css";
