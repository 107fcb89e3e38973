"""alarms"""
