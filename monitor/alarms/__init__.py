"""The ISA-18.2 / IEC 62682 life cycle in tables: state, acknowledgement, suppression, priority."""
