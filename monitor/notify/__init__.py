"""notify"""
